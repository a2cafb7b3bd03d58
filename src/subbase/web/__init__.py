"""The face on the phone: pages made by the server, six stages of a job, a journal behind them. No rule of the trade lives here.

app, settings
    the application, and what it is started with
jobs, looks
    a job as a page shows it (survey read, plan made, both remembered), and templates filled in
stage_*
    one stage of the job each: its pages and what can be sent to them
"""
