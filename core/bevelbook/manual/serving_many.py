"""Serving an edition to many: any number of processes behind a web server, and a host's own images."""

from __future__ import annotations

from typing import Final

from bevelbook.manual.contents import Bullets, CommandLine, ManualPage, Paragraph, Section

TOPIC: Final = "serving"
PROXY: Final = """\
upstream bevelbook {
    server 127.0.0.1:8101;
    server 127.0.0.1:8102;
}
server {
    listen 8100;
    server_name diffs.example.org;
    location /diffs/ {
        proxy_pass http://bevelbook/;
        proxy_http_version 1.1;
        proxy_set_header Connection "";
        proxy_set_header Host $http_host;
        proxy_set_header X-Forwarded-For $remote_addr;
        proxy_set_header X-Forwarded-Proto $scheme;
        proxy_next_upstream error timeout;
    }
}
"""
"""A configuration of nginx for two processes, below a path; a test starts it."""
PROCESS: Final = """\
datasette --immutable edition.db --port 8101 \\
    --setting base_url /diffs/ --setting default_allow_sql off"""
"""How each of these processes is started; a test starts it."""


def serving_page() -> ManualPage:
    """All about serving an edition to many."""
    return ManualPage(
        TOPIC,
        "Serving an edition to many",
        "'bevelbook serve' is enough for the pits. For a club or the world there is an edition, which never changes, "
        "and as many processes over it as are needed.",
        (_behind_a_server(), _what_to_mind(), _images()),
    )


def _behind_a_server() -> Section:
    return Section(
        "Behind a web server",
        (
            Paragraph(
                "An edition is one file that is only read, so any number of processes may serve it, on one machine or "
                "on several with a copy each. Start each of them on a port of its own; Datasette with bevelbook beside "
                "it finds our pages by itself:"
            ),
            CommandLine(PROCESS),
            CommandLine(PROCESS.replace("8101", "8102")),
            Paragraph("A web server in front gives each request to the next of them. For nginx:"),
            CommandLine(PROXY.rstrip("\n")),
        ),
    )


def _what_to_mind() -> Section:
    return Section(
        "What to mind",
        (
            Bullets(
                (
                    "The path in the setting base_url is the one that visitors see, with / at both ends; without the "
                    "setting it is / alone. The / at the end of proxy_pass has the web server take it off again: "
                    "links to further rows would have it twice else.",
                    "Serve an edition, not the book: the book changes while it is served, and has everybody's names in "
                    "it.",
                    "An immutable file may be fetched whole by visitors; --setting allow_download off takes that "
                    "away. So does default_allow_sql off with questions in SQL.",
                    "Behind https add --setting force_https_urls on, so that links of the data say https too.",
                    "All processes need one secret: set DATASETTE_SECRET to the same long text for each of them.",
                    "A new edition is a new file: start processes over it, then turn the web server to their ports.",
                    "Each page has the headers that keep other pages from framing it, and most say that a browser asks "
                    "again each time. Let the web server hand them on as they are.",
                    "Another process takes another core, so more of them than cores gain nothing. A process needs "
                    "150 to 300 MB.",
                )
            ),
        ),
    )


def _images() -> Section:
    return Section(
        "At a host, in an image",
        (
            Paragraph(
                "'datasette publish' and 'datasette package' put a file and Datasette into an image that a host runs. "
                "Both need to know of bevelbook, or its tables are shown bare:"
            ),
            CommandLine(
                "datasette package edition.db --metadata metadata.json --install bevelbook \\\n"
                "    --extra-options '--setting default_allow_sql off'"
            ),
            Bullets(
                (
                    "--install takes what pip installs: the name, or the address of a wheel. Our styles and scripts "
                    "come with it, so that --static, --template-dir and --plugins-dir are for your own only; "
                    "calculators of your own go with --plugins-dir.",
                    "--metadata takes the file that lies beside the edition, with its title and licence.",
                    "--secret keeps one secret over all images; else each gets its own.",
                    "The tables need SQLite 3.37 or newer and Python 3.11 or newer. The image that Datasette 0.65 "
                    "begins with may have an older SQLite, and then it does not open the file: use one that has a "
                    "newer one, with pip install bevelbook and the command above.",
                    "--cors is set in such an image: scripts of other pages may read the data. It is public anyway.",
                )
            ),
        ),
    )
