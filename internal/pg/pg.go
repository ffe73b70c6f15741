package pg

import (
	"context"
	"database/sql"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"sync/atomic"
	"testing"

	_ "github.com/jackc/pgx/v5/stdlib" // the driver
)

var (
	once    sync.Once
	server  *cluster
	failure error
	count   atomic.Int64
)

// Main runs the tests of a package and stops the server, if one was started.
// It belongs into TestMain: os.Exit(pg.Main(m)).
func Main(m *testing.M) int {
	code := m.Run()
	if server != nil {
		if err := server.stop(); err != nil {
			fmt.Fprintln(os.Stderr, "stop postgresql:", err)
			code = max(code, 1)
		}
	}
	return code
}

// Database makes an empty database and returns its URL. Package's tests must
// have a TestMain that calls Main.
func Database(t testing.TB) string {
	t.Helper()
	bin := find()
	if bin == "" {
		if os.Getenv("CI") != "" {
			t.Fatal("no PostgreSQL server here: apt-get install postgresql")
		}
		t.Skip("no PostgreSQL server here: apt-get install postgresql")
	}
	once.Do(func() { server, failure = start(bin) })
	if failure != nil {
		t.Fatalf("start postgresql: %v", failure)
	}
	name := fmt.Sprintf("test%d", count.Add(1))
	server.do(t, "CREATE DATABASE "+name)
	t.Cleanup(func() { server.do(t, "DROP DATABASE "+name+" WITH (FORCE)") })
	return server.url(name)
}

// Stall stops the server at once, as a crash or a lost network would, and
// returns what starts it again.
func Stall(t testing.TB) (again func()) {
	t.Helper()
	if err := server.crash(); err != nil {
		t.Fatalf("crash postgresql: %v", err)
	}
	return sync.OnceFunc(func() {
		if err := server.run(); err != nil {
			t.Fatalf("start postgresql again: %v", err)
		}
	})
}

// find returns the folder of the newest server's programs, or "".
func find() string {
	found, _ := filepath.Glob("/usr/lib/postgresql/*/bin/postgres")
	if len(found) == 0 {
		return ""
	}
	slices.SortFunc(found, func(a, b string) int { return version(a) - version(b) })
	return filepath.Dir(found[len(found)-1])
}

func version(path string) (n int) {
	fmt.Sscanf(path, "/usr/lib/postgresql/%d", &n)
	return n
}

const userName = "platebook"

func (c *cluster) url(database string) string {
	q := url.Values{"host": {c.folder}, "user": {userName}}
	return (&url.URL{Scheme: "postgres", Path: "/" + database, RawQuery: q.Encode()}).String()
}

func (c *cluster) do(t testing.TB, statement string) {
	t.Helper()
	db, err := sql.Open("pgx", c.url("postgres"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.ExecContext(context.Background(), statement); err != nil {
		t.Fatalf("%s: %v", statement, err)
	}
}
