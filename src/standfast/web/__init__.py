"""The second face: pages for the office, the page beside the mat, and what it sends.

    app.py       the application, put together
    guard.py     what every answer carries, and what is let in at all
    visitor.py   who is asking, and what they may see
    pages.py     templates to HTML
    routes/      one module for each part of the house
    templates/   the pages; no script and no style stands in them
    static/      style sheets, scripts, pictures

It decides nothing: every function that does something is the desk's, as at the command line.
"""
