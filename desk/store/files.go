package store

import (
	"platebook/desk"
)

// SaveFile is desk.Tx's.
func (x *tx) SaveFile(f *desk.File) error {
	if f.ID == "" {
		f.ID = desk.NewID()
	}
	if err := upsert(x, files, f); err != nil {
		return err
	}
	return x.index(f.ID, f.Request, f.Name)
}

// upsert replaces the row with v's key or adds it.
func upsert[T any](x *tx, t table[T], v *T) error {
	ok, err := t.replace(x, v)
	if err == nil && !ok {
		if ok, err = t.add(x, v); err == nil && !ok {
			err = desk.Faultf(desk.NotNow, "This form was sent before, and its %s is here already.", t.noun)
		}
	}
	return err
}

// File is desk.Tx's.
func (x *tx) File(id desk.ID) (desk.File, error) { return files.one(x, "WHERE id = $1", id) }

// FilesOf is desk.Tx's.
func (x *tx) FilesOf(request desk.ID) ([]desk.File, error) {
	return files.list(x, "WHERE request = $1 ORDER BY sent, id", request)
}

var filesWithoutResult = files.without("result")

// FilesOfAll is desk.Tx's.
func (x *tx) FilesOfAll(requests []desk.ID) ([]desk.File, error) {
	if len(requests) == 0 {
		return nil, nil
	}
	w := &where{}
	among(w, "request", requests)
	return filesWithoutResult.list(x, w.String()+" ORDER BY sent, id", w.args...)
}

// DeleteFiles is desk.Tx's.
func (x *tx) DeleteFiles(request desk.ID) error {
	if _, err := x.exec("DELETE FROM search WHERE request = $1 AND owner <> $1", request); err != nil {
		return err
	}
	_, err := x.exec("DELETE FROM files WHERE request = $1", request)
	return err
}

// HashUsed is desk.Tx's.
func (x *tx) HashUsed(h desk.Hash) (used bool, err error) {
	var n int64
	err = x.row(`SELECT CASE WHEN EXISTS (SELECT 1 FROM files WHERE hash = $1)
		OR EXISTS (SELECT 1 FROM refs WHERE hash = $1)
		OR EXISTS (SELECT 1 FROM mail_refs WHERE hash = $1) THEN 1 ELSE 0 END`, []any{h}, &n)
	return n == 1, err
}

// Refer is desk.Tx's.
func (x *tx) Refer(request desk.ID, hashes ...desk.Hash) error {
	for _, h := range hashes {
		if h == "" {
			continue
		}
		if _, err := x.exec("INSERT INTO refs (request, hash) VALUES ($1, $2) ON CONFLICT DO NOTHING", request, h); err != nil {
			return err
		}
	}
	return nil
}

// Unrefer is desk.Tx's.
func (x *tx) Unrefer(request desk.ID) error {
	_, err := x.exec("DELETE FROM refs WHERE request = $1", request)
	return err
}
