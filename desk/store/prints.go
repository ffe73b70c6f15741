package store

import (
	"platebook/desk"
)

// SaveRun is desk.Tx's.
func (x *tx) SaveRun(r *desk.Run) error {
	err := runs.save(x, r, &r.ID, &r.Version, func() error {
		if r.Form == "" {
			return nil
		}
		if _, err := x.RunByForm(r.Form); desk.KindOf(err) != desk.NotFound {
			return orElse(err, desk.Faultf(desk.NotNow, "This form was sent before, and its run is here already."))
		}
		return nil
	})
	if err != nil {
		return err
	}
	if _, err := x.exec("DELETE FROM run_requests WHERE run = $1", r.ID); err != nil {
		return err
	}
	for _, p := range r.Parts {
		if _, err := x.exec("INSERT INTO run_requests (run, request) VALUES ($1, $2) ON CONFLICT DO NOTHING", r.ID, p.Request); err != nil {
			return err
		}
	}
	return nil
}

// Run is desk.Tx's.
func (x *tx) Run(id desk.ID) (desk.Run, error) { return runs.one(x, "WHERE id = $1", id) }

// RunByForm is desk.Tx's.
func (x *tx) RunByForm(form string) (desk.Run, error) {
	return runs.one(x, "WHERE form = $1 AND form <> ''", form)
}

// RunsOf is desk.Tx's, oldest first.
func (x *tx) RunsOf(request desk.ID) ([]desk.Run, error) {
	return runs.list(x, "WHERE id IN (SELECT run FROM run_requests WHERE request = $1) ORDER BY started, id", request)
}

// ListRuns is desk.Tx's, newest first.
func (x *tx) ListRuns(f desk.RunFilter) ([]desk.Run, error) {
	w := &where{}
	if len(f.Requests) > 0 {
		of := &where{}
		among(of, "request", f.Requests)
		w.add("id IN (SELECT run FROM run_requests "+of.marks()+")", of.args...)
	}
	among(w, "state", f.States)
	among(w, "branch", f.Branches)
	if f.Printer != "" {
		w.add("printer = ?", f.Printer)
	}
	if !f.Since.IsZero() {
		w.add("started >= ?", micros(f.Since))
	}
	return runs.list(x, w.String()+" ORDER BY started DESC, id DESC"+limit(f.Most), w.args...)
}

// SaveSpool is desk.Tx's.
func (x *tx) SaveSpool(s *desk.Spool) error {
	return spools.save(x, s, &s.ID, &s.Version, noClash)
}

// Spool is desk.Tx's.
func (x *tx) Spool(id desk.ID) (desk.Spool, error) { return spools.one(x, "WHERE id = $1", id) }

// Spools is desk.Tx's, by name.
func (x *tx) Spools(branches []desk.ID, retired bool) ([]desk.Spool, error) {
	w := &where{}
	among(w, "branch", branches)
	if !retired {
		w.add("retired = 0")
	}
	all, err := spools.list(x, w.String(), w.args...)
	return byName(all, func(s desk.Spool) (string, desk.ID) { return s.Name, s.ID }), err
}

// AddSpoolLine is desk.Tx's.
func (x *tx) AddSpoolLine(l *desk.SpoolLine) error { return addOnce(x, spoolLines, l, &l.ID) }

// SpoolLines is desk.Tx's.
func (x *tx) SpoolLines(spool desk.ID, most int) ([]desk.SpoolLine, error) {
	return spoolLines.list(x, "WHERE spool = $1 ORDER BY at DESC, id DESC"+limit(most), spool)
}
