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
	"os"
	"path/filepath"
	"strings"
	"time"

	"platebook/desk"
)

// A backup is a zip: manifest.json, platebook.db (always SQLite, so that it can
// be put back into either database), secret, and files by their hash.
const (
	backupFormat = 1
	manifestFile = "manifest.json"
	backupFolder = "backup-" // in the desk's folder, while one is made
)

// Manifest says what a backup holds.
type Manifest struct {
	Format  int            `json:"format"`
	Program string         `json:"program,omitempty"`
	Made    time.Time      `json:"made"`
	Dialect string         `json:"dialect"` // of the desk backed up: "sqlite" or "postgres"
	Schema  int64          `json:"schema"`  // version of the tables
	Rows    map[string]int `json:"rows"`    // by table
	Files   int            `json:"files"`
	Bytes   int64          `json:"bytes"` // of the files
	// Database and Secret are hashes of the entries of the zip; Secret is empty
	// if the desk never made one.
	Database desk.Hash `json:"database"`
	Secret   desk.Hash `json:"secret,omitempty"`
	// Missing are files that rows refer to and that were gone or damaged on
	// the desk's disk: the backup holds all but those.
	Missing []desk.Hash `json:"missing,omitempty"`
}

// Backup writes a consistent copy of everything, as a zip, while the desk (in
// this process or another) goes on: the rows as they stand at one moment, then
// every file they refer to. Files are put before the rows that refer to them,
// and none is taken away while a backup runs. Log-ins are left out.
func Backup(ctx context.Context, o Options, program string, w io.Writer) (m Manifest, err error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	s, err := openBeside(ctx, o)
	if err != nil {
		return m, err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	b := &backup{s: s, name: string(desk.NewID()), zip: zip.NewWriter(w)}
	b.zip.RegisterCompressor(zip.Deflate, func(w io.Writer) (io.WriteCloser, error) { return flate.NewWriter(w, flate.BestSpeed) })
	if err := b.clean(ctx); err != nil {
		return m, fault(err)
	}
	if err := b.hold(ctx); err != nil {
		return m, err
	}
	defer func() {
		err = errors.Join(err, s.hold(context.WithoutCancel(ctx), b.name, time.Time{}), os.RemoveAll(b.folder()))
	}()
	b.m = Manifest{Format: backupFormat, Program: program, Made: o.Now().UTC(), Dialect: s.Dialect()}
	if err := b.write(ctx); err != nil {
		return m, fault(err)
	}
	return b.m, nil
}

// openBeside opens a store that a desk, or none, has open: the folder is not
// locked and the tables stay as they are.
func openBeside(ctx context.Context, o Options) (*Store, error) {
	if o.Database == "" {
		if _, err := os.Stat(filepath.Join(o.Folder, databaseFile)); err != nil {
			return nil, &desk.Fault{Kind: desk.NotFound, Err: err,
				Say: fmt.Sprintf("There is no desk in the folder %s. Name the folder that a desk is served from.", o.Folder)}
		}
	}
	s := &Store{opts: o}
	err := func() (err error) {
		if s.dialect, s.write, s.read, err = openDatabase(o); err != nil {
			return err
		}
		if err := s.checkSchema(ctx); err != nil {
			return err
		}
		s.shelves, err = openShelvesBeside(ctx, s)
		return err
	}()
	if err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

// backup is one being made.
type backup struct {
	s    *Store
	name string
	zip  *zip.Writer
	m    Manifest
	held time.Time // until when files stay
}

func (b *backup) folder() string { return filepath.Join(b.s.opts.Folder, backupFolder+b.name) }

// holdFor is how long files stay after a backup was last heard of.
const holdFor = time.Hour

// hold keeps files from being taken away while the backup goes on.
func (b *backup) hold(ctx context.Context) error {
	now := b.s.opts.Now()
	if b.held.Sub(now) > holdFor/2 {
		return nil
	}
	b.held = now.Add(holdFor)
	return b.s.hold(ctx, b.name, b.held)
}

// clean removes what a killed backup left, unless another is at work.
func (b *backup) clean(ctx context.Context) error {
	left, err := filepath.Glob(filepath.Join(globEscape(b.s.opts.Folder), backupFolder+"*"))
	if err != nil || len(left) == 0 {
		return err
	}
	busy := false
	err = b.s.Read(ctx, func(t desk.Tx) (err error) {
		busy, err = t.(*tx).held(b.s.opts.Now())
		return err
	})
	for _, f := range left {
		if err == nil && !busy {
			err = os.RemoveAll(f)
		}
	}
	return err
}

func globEscape(s string) string {
	if filepath.Separator == '\\' {
		return s
	}
	return strings.NewReplacer(`\`, `\\`, `*`, `\*`, `?`, `\?`, `[`, `\[`).Replace(s)
}

func (b *backup) write(ctx context.Context) error {
	if err := os.MkdirAll(b.folder(), 0o700); err != nil {
		return err
	}
	path := filepath.Join(b.folder(), databaseFile)
	if err := b.s.copyDatabase(ctx, path); err != nil {
		return fmt.Errorf("copy the database: %w", err)
	}
	var hashes []desk.Hash
	err := withSQLite(path, func(db *sql.DB) (err error) {
		if b.m.Schema, err = schemaOf(ctx, db); err == nil {
			if b.m.Rows, err = countRows(ctx, db); err == nil {
				hashes, err = usedHashes(ctx, db)
			}
		}
		return err
	})
	if err != nil {
		return err
	}
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	b.m.Database, _, err = b.add(databaseFile, zip.Deflate, f)
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	secret, err := os.Open(filepath.Join(b.s.opts.Folder, secretFile))
	if err == nil {
		b.m.Secret, _, err = b.add(secretFile, zip.Store, secret)
		err = errors.Join(err, secret.Close())
	} else if errors.Is(err, os.ErrNotExist) {
		err = nil
	}
	if err != nil {
		return err
	}
	for _, h := range hashes {
		if err := b.file(ctx, h); err != nil {
			return err
		}
	}
	text, err := json.MarshalIndent(b.m, "", "\t")
	if err != nil {
		return err
	}
	if _, _, err := b.add(manifestFile, zip.Deflate, strings.NewReader(string(text))); err != nil {
		return err
	}
	return b.zip.Close()
}

// file adds the bytes of a hash, unless they are gone or are not what they
// should be: a backup of all the rest is worth more than none.
func (b *backup) file(ctx context.Context, h desk.Hash) error {
	if err := b.hold(ctx); err != nil {
		return err
	}
	f, err := b.s.shelves.Open(ctx, h)
	if desk.KindOf(err) == desk.NotFound {
		b.m.Missing = append(b.m.Missing, h)
		return nil
	}
	if err != nil {
		return err
	}
	defer f.Close()
	got, n, err := b.add(filesFolder+"/"+keyOf(h), zip.Deflate, ctxReader{ctx, f})
	if err != nil {
		return err
	}
	if got != h {
		b.m.Missing = append(b.m.Missing, h)
		return nil
	}
	b.m.Files++
	b.m.Bytes += n
	return nil
}

// add adds an entry to the zip and returns its hash and size.
func (b *backup) add(name string, method uint16, r io.Reader) (desk.Hash, int64, error) {
	w, err := b.zip.CreateHeader(&zip.FileHeader{Name: name, Method: method, Modified: b.m.Made})
	if err != nil {
		return "", 0, err
	}
	sum := sha256.New()
	n, err := io.Copy(io.MultiWriter(w, sum), r)
	if err != nil {
		return "", n, fmt.Errorf("copy %s: %w", name, err)
	}
	return desk.Hash(hex.EncodeToString(sum.Sum(nil))), n, nil
}

// ctxReader stops reading when nobody waits for it any more.
type ctxReader struct {
	ctx context.Context
	io.Reader
}

func (r ctxReader) Read(p []byte) (int, error) {
	if err := r.ctx.Err(); err != nil {
		return 0, err
	}
	return r.Reader.Read(p)
}
