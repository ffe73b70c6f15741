package store

import (
	"platebook/desk"
)

// column is one column of a table and the field it keeps.
type column struct {
	name  string
	field value
}

// Every table lists its columns once. A further field of a type is a line here
// and a line in a migration.

var requests = newTable("requests", "request", func(r *desk.Request) []column {
	return []column{
		{"id", text(&r.ID)},
		{"version", number(&r.Version)},
		{"code", text(&r.Code)},
		{"state", text(&r.State)},
		{"branch", text(&r.Branch)},
		{"source", text(&r.Source)},
		{"form", text(&r.Form)},
		{"key_hash", text(&r.Key)},
		{"key_seed", text(&r.KeySeed)},
		{"patron", text(&r.Patron)},
		{"reason", text(&r.Reason)},
		{"asked", when(&r.Asked)},
		{"changed", when(&r.Changed)},
		{"due", when(&r.Due)},
		{"reminded", when(&r.Reminded)},
		{"closed", when(&r.Closed)},
		{"forgotten", when(&r.Forgotten)},
		{"contact", doc(&r.Contact)},
		{"wish", doc(&r.Wish)},
		{"plan", doc(&r.Plan)},
		{"basis", doc(&r.Basis)},
		{"ways", doc(&r.Ways)},
		{"quote", doc(&r.Quote)},
		{"agreement", doc(&r.Agreement)},
		{"checklist", doc(&r.Checklist)},
		{"shelf", doc(&r.Shelf)},
	}
})

var files = newTable("files", "file", func(f *desk.File) []column {
	return []column{
		{"id", text(&f.ID)},
		{"request", text(&f.Request)},
		{"name", text(&f.Name)},
		{"hash", text(&f.Hash)},
		{"size", number(&f.Size)},
		{"sent", when(&f.Sent)},
		{"check_state", text(&f.Check)},
		{"doing", text(&f.Doing)},
		{"result", doc(&f.Result)},
	}
})

var messages = newTable("messages", "message", func(m *desk.Message) []column {
	return []column{
		{"id", text(&m.ID)},
		{"request", text(&m.Request)},
		{"form", text(&m.Form)},
		{"sender", text(&m.From)},
		{"who", text(&m.Who)},
		{"subject", text(&m.Subject)},
		{"body", text(&m.Text)},
		{"at", when(&m.At)},
		{"seen", when(&m.Seen)},
	}
})

var events = newTable("events", "line of history", func(e *desk.Event) []column {
	return []column{
		{"id", text(&e.ID)},
		{"request", text(&e.Request)},
		{"version", number(&e.Version)},
		{"at", when(&e.At)},
		{"kind", text(&e.Kind)},
		{"who", text(&e.Who)},
		{"what", text(&e.What)},
		{"say", text(&e.Say)},
		{"was", text(&e.Before)},
		{"became", text(&e.After)},
	}
})

var charges = newTable("charges", "charge", func(c *desk.Charge) []column {
	return []column{
		{"id", text(&c.ID)},
		{"request", text(&c.Request)},
		{"form", text(&c.Form)},
		{"kind", text(&c.Kind)},
		{"amount", text(&c.Amount)},
		{"currency", text(&c.Currency)},
		{"reason", text(&c.Reason)},
		{"who", text(&c.Who)},
		{"at", when(&c.At)},
		{"price", doc(&c.Price)},
	}
})

var runs = newTable("runs", "run", func(r *desk.Run) []column {
	return []column{
		{"id", text(&r.ID)},
		{"version", number(&r.Version)},
		{"form", text(&r.Form)},
		{"branch", text(&r.Branch)},
		{"printer", text(&r.Printer)},
		{"state", text(&r.State)},
		{"started", when(&r.Started)},
		{"expect", when(&r.Expect)},
		{"ended", when(&r.Ended)},
		{"by_whom", text(&r.By)},
		{"last_form", text(&r.Last)},
		{"parts", doc(&r.Parts)},
		{"spools", doc(&r.Spools)},
		{"failure", doc(&r.Failure)},
	}
})

var spools = newTable("spools", "spool", func(s *desk.Spool) []column {
	return []column{
		{"id", text(&s.ID)},
		{"version", number(&s.Version)},
		{"name", text(&s.Name)},
		{"branch", text(&s.Branch)},
		{"material", text(&s.Material)},
		{"colour", text(&s.Colour)},
		{"hex", text(&s.Hex)},
		{"grams", real(&s.Grams)},
		{"full_grams", real(&s.Full)},
		{"loaded", text(&s.Loaded)},
		{"retired", flag(&s.Retired)},
		{"form", text(&s.Form)},
	}
})

var spoolLines = newTable("spool_lines", "line of a spool", func(l *desk.SpoolLine) []column {
	return []column{
		{"id", text(&l.ID)},
		{"spool", text(&l.Spool)},
		{"at", when(&l.At)},
		{"who", text(&l.Who)},
		{"grams", real(&l.Grams)},
		{"why", text(&l.Why)},
		{"run", text(&l.Run)},
	}
})

var branches = newTable("branches", "branch", func(b *desk.Branch) []column {
	return []column{
		{"id", text(&b.ID)},
		{"version", number(&b.Version)},
		{"name", text(&b.Name)},
		{"place", text(&b.Place)},
		{"hours", doc(&b.Hours)},
		{"closed", doc(&b.Closed)},
		{"shut", flag(&b.Shut)},
	}
})

var printers = newTable("printers", "printer", func(p *desk.PrinterUnit) []column {
	return []column{
		{"id", text(&p.ID)},
		{"version", number(&p.Version)},
		{"name", text(&p.Name)},
		{"branch", text(&p.Branch)},
		{"model", text(&p.Model)},
		{"out", text(&p.Out)},
		{"retired", flag(&p.Retired)},
	}
})

// staffRow is a member of staff with the name as it is compared.
type staffRow struct {
	desk.Staff
	folded string
}

var staff = newTable("staff", "account", func(s *staffRow) []column {
	return []column{
		{"id", text(&s.ID)},
		{"version", number(&s.Version)},
		{"name", text(&s.Name)},
		{"folded", text(&s.folded)},
		{"called", text(&s.Called)},
		{"password", text(&s.Password)},
		{"grants", doc(&s.Grants)},
		{"home", text(&s.Home)},
		{"active", flag(&s.Active)},
		{"made", when(&s.Made)},
		{"renewed", when(&s.Renewed)},
		{"one_time", flag(&s.OneTime)},
	}
})

// logInRow is a line of the audit with what it has beside.
type logInRow struct {
	desk.LogIn
	id     desk.ID
	folded string
}

var logIns = newTable("logins", "log-in", func(l *logInRow) []column {
	return []column{
		{"id", text(&l.id)},
		{"at", when(&l.At)},
		{"name", text(&l.Name)},
		{"folded", text(&l.folded)},
		{"from_addr", text(&l.From)},
		{"ok", flag(&l.OK)},
		{"why", text(&l.Why)},
	}
})

// settingRow is a setting with its body as text.
type settingRow struct {
	desk.Setting
	body string
}

var settings = newTable("settings", "setting", func(s *settingRow) []column {
	return []column{
		{"kind", text(&s.Kind)},
		{"version", number(&s.Version)},
		{"body", text(&s.body)},
		{"since", when(&s.Since)},
		{"by_whom", text(&s.By)},
	}
})

var tallies = newTable("tallies", "tally", func(t *desk.Tally) []column {
	return []column{
		{"id", text(&t.ID)},
		{"month", text(&t.Month)},
		{"branch", text(&t.Branch)},
		{"state", text(&t.State)},
		{"material", text(&t.Material)},
		{"copies", number(&t.Copies)},
		{"runs", number(&t.Runs)},
		{"failed", number(&t.Failed)},
		{"grams", real(&t.Grams)},
		{"seconds", real(&t.Seconds)},
		{"paid", text(&t.Paid)},
		{"currency", text(&t.Currency)},
	}
})

var shapes = newTable("shapes", "shape", func(s *desk.Shape) []column {
	return []column{
		{"id", text(&s.ID)},
		{"shape", text(&s.Shape)},
		{"code", text(&s.Code)},
		{"reason", text(&s.Reason)},
		{"at", when(&s.At)},
	}
})
