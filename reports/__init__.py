"""The pages that coach, physio and player read, made from marts only."""
