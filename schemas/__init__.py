"""What the data means: fields, contracts of files, tables and marts, errors and results. Imports none of ours."""
