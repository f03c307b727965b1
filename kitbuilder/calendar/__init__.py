"""Working time of a site: its zone, shifts, breaks, closing days and public holidays, through clock changes."""
