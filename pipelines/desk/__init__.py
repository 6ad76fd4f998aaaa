"""The desk: one small web service for the academy's own network. Starlette lives here only.

It writes native files into the inbox and nothing else; what forms show comes from one small file that intake and night leave
(:mod:`pipelines.stages.desk_view`), so the desk never waits for the warehouse. Who may open what stands in one table,
:data:`pipelines.desk.routes.ENTRIES`.
"""
