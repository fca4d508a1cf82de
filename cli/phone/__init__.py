"""The phone page: a small web server on the maker's computer, and the phone's own browser does the rest.

command     the `pencilamp phone` command; serving, addresses: sockets, limits on connections, the code to scan
gate, keys  who gets in: key -> cookie, Host, Origin, content policy, sizes and times
app, views  what is shown where; templates and static hold the pages, plain HTML, CSS and scripts
drawer      the cards on the disk, each whole or not at all
crew, worker, planning
            readings and plans in processes of their own, and the one place that calls the planning
"""
