"""One module a page: what a phone asks for, and what it is shown. A new one is named in `webui.app`."""
