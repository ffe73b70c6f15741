package web

import (
	"time"

	"platebook/desk"
)

func init() {
	since := []desk.Event{{At: time.Date(2026, 3, 4, 9, 15, 0, 0, time.UTC), Kind: desk.ByStaff, Who: "Rowan", Say: "Sent the quote to the patron."}}
	full := faultView{Title: "Changed meanwhile", Say: "Someone changed this request while you had it open. Look at what they did, then send yours again.", Since: told(since, "Europe/London"), ID: "K3QX7PLM2A", W: &english}
	example(faultPage, "stale", full)
	example(faultPage, "not found", faultView{Title: "Not found", Say: "There is no such page.", ID: "K3QX7PLM2A", W: &english, Front: true})
	example(staffFaultPage, "stale", full)
	example(licencesPage, "full", licencesView{"a library 1.0, MIT\n\nDo as you like."})
}
