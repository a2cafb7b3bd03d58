"""The pocket: a static folder that plans, proves and keeps a job on a phone without a server.

engine, bench, acts, answering, shown
    what a browser's own Python runs: the standard library, pydantic, PyYAML and the floors below, nothing else
fetch, build, page_words, pattern
    what a desk runs: the browser's Python fetched from the package registries, and the folder written with every
    sentence that its page may say
static
    the page, its scripts, the worker that holds Python, the service worker that keeps everything
"""
