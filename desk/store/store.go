package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"

	"github.com/gofrs/flock"

	"platebook/desk"
)

// Options say where everything lies.
type Options struct {
	// Folder holds the secret, the lock and, unless the next two say
	// otherwise, the database and the files. It is made if missing.
	Folder string
	// Database is empty for SQLite in Folder, or the URL of a PostgreSQL
	// database: postgres://…
	Database string
	// Files is empty for files in Folder, or the URL of a bucket: file:///…,
	// mem://, or another that was compiled in.
	Files string
	// Enqueue puts a job beside its cause, in the same transaction.
	Enqueue EnqueueFunc
	// Now is the desk's clock; nil is the machine's.
	Now func() time.Time
	// Wait is how long a writer waits for another process that has the
	// database; 0 is ten seconds.
	Wait time.Duration
}

func (o Options) wait() int64 {
	if o.Wait <= 0 {
		return 10_000
	}
	return o.Wait.Milliseconds()
}

// patience is how long a desk that starts waits for one that ends.
func (o Options) patience() time.Duration {
	return min(5*time.Second, time.Duration(o.wait())*time.Millisecond)
}

// EnqueueFunc puts a job into a queue within a transaction.
type EnqueueFunc func(context.Context, *sql.Tx, desk.Job) error

// Store keeps all of a desk. It is a desk.Store.
type Store struct {
	opts    Options
	dialect dialect
	// write is shared with background work. On SQLite it is one connection:
	// who waits for it waits in line, and none meets a locked database.
	write, read *sql.DB
	shelves     *shelves
	lock        *flock.Flock
	alone       *alone // on PostgreSQL
	enqueue     atomic.Pointer[EnqueueFunc]
	// gate lets writers in together, and one that lost against others too
	// often on its own. Only PostgreSQL needs it.
	gate   sync.RWMutex
	secret sync.Mutex
	swept  atomic.Int64 // sessions, in microseconds
}

const (
	databaseFile = "platebook.db"
	secretFile   = "secret"
	lockFile     = "lock"
	filesFolder  = "files"
)

// Open opens the store, making what is missing and bringing the tables up to
// date. A folder or a database another desk has open is a NotNow Fault.
func Open(ctx context.Context, o Options) (*Store, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	s := &Store{opts: o}
	if o.Enqueue != nil {
		s.SetEnqueue(o.Enqueue)
	}
	if err := s.open(ctx); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

func (s *Store) open(ctx context.Context) (err error) {
	if err := makeFolder(s.opts.Folder); err != nil {
		return err
	}
	if s.lock, err = lockFolder(s.opts.Folder); err != nil {
		return err
	}
	s.dialect, s.write, s.read, err = openDatabase(s.opts)
	if err != nil {
		return err
	}
	if s.opts.Database != "" {
		if s.alone, err = standAlone(ctx, s.opts); err != nil {
			return err
		}
	}
	if err := migrateTo(ctx, s.dialect, s.write); err != nil {
		return fault(err)
	}
	s.shelves, err = openShelves(ctx, s)
	return err
}

// openDatabase opens the connections for writing and reading.
func openDatabase(o Options) (d dialect, write, read *sql.DB, err error) {
	if o.Database == "" {
		write, read, err = openSQLite(filepath.Join(o.Folder, databaseFile), o.wait())
		return sqliteDialect{}, write, read, err
	}
	write, read, err = openPostgres(o.Database, o.wait())
	return postgresDialect{}, write, read, err
}

func makeFolder(folder string) error {
	if folder == "" {
		return desk.Faultf(desk.Wrong, "No folder is named to keep the desk's data in. Name one and start again.")
	}
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return &desk.Fault{Kind: desk.NoRoom, Err: err,
			Say: fmt.Sprintf("The folder %s cannot be made. See that the disk has room and that this account may write there.", folder)}
	}
	return nil
}

func lockFolder(folder string) (*flock.Flock, error) {
	l := flock.New(filepath.Join(folder, lockFile), flock.SetPermissions(0o600))
	got, err := l.TryLock()
	if err != nil {
		return nil, fault(fmt.Errorf("lock %s: %w", folder, err))
	}
	if !got {
		return nil, desk.Faultf(desk.NotNow, "Another desk has the folder %s open. Stop it first, or name another folder.", folder)
	}
	return l, nil
}

// Idle is a NotNow Fault if a desk has the folder open.
func Idle(folder string) error {
	l, err := lockFolder(folder)
	if err != nil {
		return err
	}
	return fault(l.Unlock())
}

// DB is the connection for writing, for background work to share.
func (s *Store) DB() *sql.DB { return s.write }

// Dialect is "sqlite" or "postgres".
func (s *Store) Dialect() string { return s.dialect.name() }

// SetEnqueue says where jobs go. Before it is called they are refused.
func (s *Store) SetEnqueue(f EnqueueFunc) { s.enqueue.Store(&f) }

// Shelves keep files' bytes.
func (s *Store) Shelves() desk.Shelves { return s.shelves }

// Lost is closed when another desk has taken the database over while this one
// was cut off from it: this one must end.
func (s *Store) Lost() <-chan struct{} {
	if s.alone == nil {
		return nil
	}
	return s.alone.lost
}

// Close ends the store. The lock on the folder goes last.
func (s *Store) Close() error {
	var errs []error
	if s.shelves != nil {
		errs = append(errs, s.shelves.close())
	}
	if s.alone != nil {
		errs = append(errs, s.alone.end())
	}
	for _, db := range []*sql.DB{s.read, s.write} {
		if db != nil {
			errs = append(errs, db.Close())
		}
	}
	if s.lock != nil {
		errs = append(errs, s.lock.Unlock())
	}
	return errors.Join(errs...)
}
