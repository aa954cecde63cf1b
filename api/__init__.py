"""The REST API: thin routers over warehouse services.

    app.py        the application, put together by `create_app(store)`
    routes/       one file a kind of thing: check the request, ask a service, shape the answer
    models.py     the shapes of requests and answers
    documents.py  rows of the dataset in those shapes
    problems.py   the one table from errors to HTTP (RFC 9457)
    paging.py     cursors and links
    answers.py    bodies with their ETag, and `304 Not Modified`
    openapi.py    the published description; `python -m api.openapi` writes it
    command.py    `mcw serve`

No handler holds SQL, and nothing here knows the engine or the table format.
"""
