package store

import (
	"archive/zip"
	"compress/flate"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"time"

	"platebook/desk"
)

// Restore checks every byte of a backup and then puts it in place: into
// to.Folder, which must be empty or missing, and, where they are named, into
// to.Database and to.Files, which must hold nothing of a desk. Nothing is put
// anywhere if a check fails. A backup of one database restores to either;
// background work that waited comes along from SQLite to SQLite only.
func Restore(ctx context.Context, from string, to Options) (m Manifest, err error) {
	if to.Now == nil {
		to.Now = time.Now
	}
	z, err := zip.OpenReader(from)
	if err != nil {
		return m, damaged(err)
	}
	defer z.Close()
	r := &restore{to: to, entries: map[string]*zip.File{}}
	for _, f := range z.File {
		r.entries[f.Name] = f
	}
	made, err := emptyFolder(to.Folder)
	if err != nil {
		return m, err
	}
	lock, err := lockFolder(to.Folder)
	if err != nil {
		return m, err
	}
	r.coming = filepath.Join(to.Folder, comingFolder)
	defer func() {
		err = errors.Join(err, os.RemoveAll(r.coming), lock.Unlock())
		if err != nil && !r.placed {
			os.Remove(filepath.Join(to.Folder, lockFile))
			if made {
				os.Remove(to.Folder) // which is empty, or stays
			}
		}
	}()
	if err := r.check(ctx); err != nil {
		return m, fault(err)
	}
	if err := r.place(ctx); err != nil {
		return m, fault(err)
	}
	return r.m, nil
}

// comingFolder holds what is checked and not yet in place.
const comingFolder = "coming"

func damaged(err error) error {
	return &desk.Fault{Kind: desk.Wrong, Err: err,
		Say: "The backup is damaged or is no backup of a desk, so nothing was restored. Try an older one."}
}

// emptyFolder makes the folder; says whether it was missing.
func emptyFolder(folder string) (made bool, err error) {
	there, err := os.ReadDir(folder)
	if errors.Is(err, os.ErrNotExist) {
		return true, makeFolder(folder)
	}
	if err != nil {
		return false, fault(err)
	}
	if len(there) > 0 {
		return false, desk.Faultf(desk.NotNow, "The folder %s is not empty, and nothing in it is overwritten. Name a new folder to restore to.", folder)
	}
	return false, nil
}

// restore is one at work.
type restore struct {
	to      Options
	m       Manifest
	entries map[string]*zip.File
	coming  string
	placed  bool // something is in place
}

// check takes everything out of the zip, aside, and looks at every byte of it.
func (r *restore) check(ctx context.Context) error {
	if err := r.manifest(); err != nil {
		return err
	}
	if err := os.MkdirAll(r.coming, 0o700); err != nil {
		return err
	}
	names := []string{databaseFile}
	if r.m.Secret != "" {
		names = append(names, secretFile)
	}
	for _, name := range names {
		h, _, err := r.take(ctx, name, name)
		if err != nil {
			return err
		}
		if want := map[string]desk.Hash{databaseFile: r.m.Database, secretFile: r.m.Secret}[name]; h != want {
			return damaged(fmt.Errorf("%s has hash %s, not %s", name, h, want))
		}
	}
	if info, err := os.Stat(filepath.Join(r.coming, secretFile)); r.m.Secret != "" && (err != nil || info.Size() != secretSize) {
		return damaged(errors.New("the secret is not as long as one is"))
	}
	var hashes []desk.Hash
	err := withSQLite(filepath.Join(r.coming, databaseFile), func(db *sql.DB) (err error) {
		if err = r.checkDatabase(ctx, db); err == nil {
			hashes, err = usedHashes(ctx, db)
		}
		return err
	})
	if err != nil {
		return err
	}
	missing := map[desk.Hash]bool{}
	for _, h := range r.m.Missing {
		missing[h] = true
	}
	var files int
	var bytes int64
	for _, h := range hashes {
		if missing[h] {
			continue
		}
		name := filesFolder + "/" + keyOf(h)
		got, n, err := r.take(ctx, name, name)
		if err != nil {
			return err
		}
		if got != h {
			return damaged(fmt.Errorf("%s has hash %s", name, got))
		}
		files, bytes = files+1, bytes+n
	}
	if files != r.m.Files || bytes != r.m.Bytes {
		return damaged(fmt.Errorf("%d files of %d bytes, not %d of %d", files, bytes, r.m.Files, r.m.Bytes))
	}
	return nil
}

// mostManifest is more than any list of missing files takes.
const mostManifest = 64 << 20

func (r *restore) manifest() error {
	f := r.entries[manifestFile]
	if f == nil {
		return damaged(errors.New("no manifest"))
	}
	b, err := f.Open()
	if err != nil {
		return damaged(err)
	}
	defer b.Close()
	if err := json.NewDecoder(io.LimitReader(b, mostManifest)).Decode(&r.m); err != nil {
		return damaged(err)
	}
	newest, err := newestSchema()
	if err != nil {
		return err
	}
	if r.m.Format > backupFormat || r.m.Schema > newest {
		return newer()
	}
	if r.m.Format < 1 {
		return damaged(fmt.Errorf("format %d", r.m.Format))
	}
	return nil
}

// take writes an entry of the zip durably to a file in the coming folder and
// returns its hash and size.
func (r *restore) take(ctx context.Context, entry, name string) (_ desk.Hash, _ int64, err error) {
	z := r.entries[entry]
	if z == nil {
		return "", 0, damaged(fmt.Errorf("%s is not in it", entry))
	}
	in, err := z.Open()
	if err != nil {
		return "", 0, damaged(err)
	}
	defer in.Close()
	path := filepath.Join(r.coming, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return "", 0, err
	}
	out, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return "", 0, err
	}
	sum := sha256.New()
	var corrupt flate.CorruptInputError
	n, err := io.Copy(io.MultiWriter(out, sum), ctxReader{ctx, in})
	if errors.Is(err, zip.ErrChecksum) || errors.Is(err, zip.ErrFormat) || errors.Is(err, io.ErrUnexpectedEOF) || errors.As(err, &corrupt) {
		err = damaged(err)
	}
	if err = errors.Join(err, out.Sync(), out.Close()); err != nil {
		return "", n, err
	}
	return desk.Hash(hex.EncodeToString(sum.Sum(nil))), n, nil
}

// checkDatabase looks whether the rows are whole, what the manifest says they
// are, and refer to nothing that is not there; then brings them up to date.
func (r *restore) checkDatabase(ctx context.Context, db *sql.DB) error {
	said, err := strings1(ctx, db, "PRAGMA integrity_check")
	if err != nil {
		return damaged(err)
	}
	if len(said) != 1 || said[0] != "ok" {
		return damaged(fmt.Errorf("integrity check: %s", strings.Join(said, "; ")))
	}
	loose, err := strings1(ctx, db, "SELECT \"table\" || ' refers to ' || parent FROM pragma_foreign_key_check")
	if err != nil {
		return damaged(err)
	}
	if len(loose) > 0 {
		return damaged(fmt.Errorf("foreign keys: %s", strings.Join(loose, "; ")))
	}
	schema, err := schemaOf(ctx, db)
	if err != nil {
		return damaged(err)
	}
	rows, err := countRows(ctx, db)
	if err != nil {
		return damaged(err)
	}
	if schema != r.m.Schema || !maps.Equal(rows, r.m.Rows) {
		return damaged(fmt.Errorf("tables of version %d with rows %v, not version %d with %v", schema, rows, r.m.Schema, r.m.Rows))
	}
	return migrateTo(ctx, sqliteDialect{}, db)
}

// place puts what is checked where it belongs. What opens the desk, its
// database, comes last.
func (r *restore) place(ctx context.Context) (err error) {
	if r.to.Database != "" {
		// A desk that was only just opened there has no rows yet.
		desk, taken := standAlone(ctx, r.to)
		if taken != nil {
			return taken
		}
		defer func() { err = errors.Join(err, desk.end()) }()
		if err := r.checkTarget(ctx); err != nil {
			return err
		}
	}
	if r.to.Files != "" {
		if err := r.placeFiles(ctx); err != nil {
			return err
		}
	} else if err := r.move(filesFolder); err != nil {
		return err
	}
	if err := r.move(secretFile); err != nil {
		return err
	}
	if r.to.Database != "" {
		return r.placeRows(ctx)
	}
	return r.move(databaseFile)
}

func (r *restore) move(name string) error {
	from := filepath.Join(r.coming, name)
	if _, err := os.Stat(from); errors.Is(err, os.ErrNotExist) {
		return nil // no files, or no secret
	}
	r.placed = true
	return moveFile(from, filepath.Join(r.to.Folder, name))
}

// placeFiles puts files into a bucket.
func (r *restore) placeFiles(ctx context.Context) error {
	s := &Store{opts: r.to}
	v, err := openShelvesBeside(ctx, s)
	if err != nil {
		return err
	}
	defer v.close()
	stop := errors.New("something is there")
	if err := v.Old(ctx, r.to.Now().AddDate(100, 0, 0), func(desk.Hash) error { return stop }); errors.Is(err, stop) {
		return desk.Faultf(desk.NotNow, "The place named for patrons' files holds files already, and nothing in it is touched. Name an empty one.")
	} else if err != nil {
		return err
	}
	return filepath.WalkDir(filepath.Join(r.coming, filesFolder), func(path string, d os.DirEntry, err error) error {
		if errors.Is(err, os.ErrNotExist) {
			return nil // no files
		}
		if err != nil || d.IsDir() {
			return err
		}
		f, err := os.Open(path)
		if err != nil {
			return err
		}
		defer f.Close()
		r.placed = true
		h, _, err := v.Put(ctx, f, 1<<62)
		if err == nil && string(h) != filepath.Base(path) {
			err = fmt.Errorf("put %s, got %s", filepath.Base(path), h)
		}
		return err
	})
}

// checkTarget makes the tables of a database and sees that all are empty.
func (r *restore) checkTarget(ctx context.Context) error {
	return r.withTarget(func(lite, target *sql.DB) error {
		if err := migrateTo(ctx, postgresDialect{}, target); err != nil {
			return err
		}
		tables, err := tablesOf(ctx, lite)
		if err != nil {
			return err
		}
		for _, t := range tables {
			var some bool
			if err := target.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM "+t+")").Scan(&some); err != nil {
				return err
			}
			if some {
				return desk.Faultf(desk.NotNow, "The database named holds a desk already, and nothing in it is overwritten. Name an empty one.")
			}
		}
		return nil
	})
}

func (r *restore) placeRows(ctx context.Context) error {
	return r.withTarget(func(lite, target *sql.DB) error {
		return copyRows(ctx, lite, lite, target)
	})
}

func (r *restore) withTarget(do func(lite, target *sql.DB) error) error {
	target, read, err := openPostgres(r.to.Database, r.to.wait())
	if err != nil {
		return err
	}
	defer target.Close()
	defer read.Close()
	return withSQLite(filepath.Join(r.coming, databaseFile), func(lite *sql.DB) error { return do(lite, target) })
}
