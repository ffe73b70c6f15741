package store

import (
	"context"
	"strings"
	"testing"
	"time"

	"platebook/desk"
)

// TestPlans: no list a page or the clock asks for goes through all requests
// that ever were. SQLite says how it would answer (EXPLAIN QUERY PLAN, its
// manual: SCAN visits every row, SEARCH a part).
func TestPlans(t *testing.T) {
	s, err := Open(t.Context(), Options{Folder: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	now := time.Now()
	north := []desk.ID{"north"}
	for name, f := range map[string]desk.RequestFilter{
		"today":              {States: []desk.State{desk.Received, desk.Agreed}, Branches: north, Most: 200},
		"shelf":              {States: []desk.State{desk.OnShelf}, Branches: north},
		"the shelf, soonest": {States: []desk.State{desk.OnShelf}, Branches: north, Soonest: true, Most: 200},
		"everywhere":         {States: []desk.State{desk.OnShelf}},
		"a patron's":         {Patron: "p", AskedSince: now},
		"due":                {DueBy: now},
		"to forget":          {ClosedBy: now, Unforgotten: true, Most: 100},
		"to forget, paging":  {ClosedBy: now, Unforgotten: true, Most: 100, After: "x"},
		"by ID":              {IDs: north},
	} {
		w := requestQuery(f)
		for _, line := range s.plan(t, "SELECT id FROM requests "+w.sql, w.args...) {
			// The inner list may go through an index in order, when it stops at
			// its limit; a table without index never.
			if strings.HasPrefix(line, "SCAN requests") && !(f.Most > 0 && strings.Contains(line, "INDEX")) {
				t.Errorf("%s: %s", name, line)
			}
		}
	}
	for name, q := range map[string]string{
		"a key":        "SELECT id FROM requests WHERE key_hash = $1 AND key_hash <> ''",
		"a form":       "SELECT id FROM requests WHERE form = $1 AND form <> ''",
		"a code":       "SELECT id FROM requests WHERE code = $1 AND forgotten IS NULL",
		"files":        "SELECT id FROM files WHERE request = $1 ORDER BY sent, id",
		"bytes":        "SELECT id FROM files WHERE hash = $1",
		"messages":     "SELECT id FROM messages WHERE request = $1 ORDER BY at, id",
		"events":       "SELECT id FROM events WHERE request = $1 AND version > $1 ORDER BY version, at, id",
		"charges":      "SELECT id FROM charges WHERE request = $1 ORDER BY at, id",
		"runs":         "SELECT id FROM runs WHERE state IN ($1) AND branch IN ($1) ORDER BY started DESC, id DESC",
		"spool lines":  "SELECT id FROM spool_lines WHERE spool = $1 ORDER BY at DESC, id DESC",
		"log-ins":      "SELECT id FROM logins WHERE at >= $1 AND folded = $1 ORDER BY at DESC, id DESC",
		"old sessions": "SELECT token FROM sessions WHERE expires < $1",
		"due letters":  "SELECT id FROM posted WHERE next IS NOT NULL AND next <= $1 ORDER BY next, id",
	} {
		for _, line := range s.plan(t, q, "x") {
			if strings.HasPrefix(line, "SCAN") {
				t.Errorf("%s: %s", name, line)
			}
		}
	}
}

func (s *Store) plan(t *testing.T, query string, args ...any) (lines []string) {
	t.Helper()
	rows, err := s.read.QueryContext(context.Background(), "EXPLAIN QUERY PLAN "+query, bind(args)...)
	if err != nil {
		t.Fatalf("%s: %v", query, err)
	}
	defer rows.Close()
	for rows.Next() {
		var id, parent, unused int
		var line string
		if err := rows.Scan(&id, &parent, &unused, &line); err != nil {
			t.Fatal(err)
		}
		lines = append(lines, line)
	}
	if len(lines) == 0 || rows.Err() != nil {
		t.Fatalf("%s: no plan, %v", query, rows.Err())
	}
	return lines
}
