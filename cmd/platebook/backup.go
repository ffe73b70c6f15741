package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/signal"
	"path/filepath"
	"syscall"
	"time"

	"platebook/desk/store"
)

// backupCommand copies a desk while it goes on.
type backupCommand struct {
	File string `arg:"" help:"File to write, such as monday.zip; one that is there already is not touched." type:"path"`
	house
}

func (c *backupCommand) Run(s *streams) error {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	if _, err := os.Stat(c.File); err == nil {
		return fmt.Errorf("%s is there already and may be the only good copy: name another file", c.File)
	} else if !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s cannot be written: %w", c.File, said(err))
	}
	if _, err := os.Stat(c.Folder); errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("there is no desk in %s to back up: name its folder with --folder", c.Folder)
	}
	m, err := c.write(ctx)
	if err != nil {
		return err
	}
	info, err := os.Stat(c.File)
	if err != nil {
		return err
	}
	fmt.Fprintf(s.out, "Kept in %s (%s): %s.\n", c.File, inBytes(info.Size()), holds(m))
	if n := len(m.Missing); n > 0 {
		fmt.Fprintf(s.out, "It is not whole: %s that requests refer to cannot be read from the desk's disk. Everything else is in it.\n", counted(n, "file"))
	}
	fmt.Fprintln(s.out, "It holds patrons' data and the secret their links are made with: keep it as you keep the desk itself.")
	return missing(m)
}

// write writes the backup aside and gives it its name when it is whole and on
// the disk, so that a file of that name is always a whole one.
func (c *backupCommand) write(ctx context.Context) (store.Manifest, error) {
	f, err := os.CreateTemp(filepath.Dir(c.File), "."+filepath.Base(c.File)+"-")
	if err != nil {
		return store.Manifest{}, fmt.Errorf("%s cannot be written: %w", c.File, said(err))
	}
	defer os.Remove(f.Name())
	m, err := store.Backup(ctx, c.options(), version(), f)
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		return m, err
	}
	return m, os.Rename(f.Name(), c.File)
}

// restoreCommand puts a backup into a new place.
type restoreCommand struct {
	File     string `arg:"" help:"The backup." type:"path"`
	Folder   string `help:"New folder to put it in; it must be empty or missing." required:"" placeholder:"FOLDER" type:"path"`
	Database string `help:"Empty PostgreSQL database to put the rows in, as postgres://…" placeholder:"URL" env:"PLATEBOOK_DATABASE"`
	Files    string `help:"Empty bucket to put patrons' files in." placeholder:"URL" env:"PLATEBOOK_FILES"`
}

func (c *restoreCommand) Run(s *streams) error {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	if info, err := os.Stat(c.File); err != nil {
		return fmt.Errorf("%s cannot be opened: %w", c.File, said(err))
	} else if !info.Mode().IsRegular() {
		return fmt.Errorf("%s is not a file: name the backup itself", c.File)
	}
	m, err := store.Restore(ctx, c.File, store.Options{Folder: c.Folder, Database: c.Database, Files: c.Files})
	if err != nil {
		return err
	}
	fmt.Fprintf(s.out, "Every byte of the backup of %s was checked.\nRestored to %s: %s.\nOpen it with: platebook serve --folder %q%s\nWhile the desk it is a copy of is open, add --no-mail: or both fetch the library's letters, and patrons are written to twice.\n",
		m.Made.Local().Format(time.DateTime), c.Folder, holds(m), c.Folder, c.also())
	return missing(m)
}

// also names the flags beside the folder without which a new, empty desk would
// be opened. Their values may hold a password.
func (c *restoreCommand) also() string {
	switch {
	case c.Database != "" && c.Files != "":
		return " and the same --database and --files"
	case c.Database != "":
		return " and the same --database"
	case c.Files != "":
		return " and the same --files"
	}
	return ""
}

// missing is the trouble of files that could not be copied.
func missing(m store.Manifest) error {
	if len(m.Missing) == 0 {
		return nil
	}
	return fmt.Errorf("%s of patrons' could not be read where the desk keeps them, and the backup is without: see to the disk, and take them from an older backup",
		counted(len(m.Missing), "file"))
}

// holds says in words what a backup holds.
func holds(m store.Manifest) string {
	return fmt.Sprintf("%s, %s, %s and %s of %s", counted(m.Rows["requests"], "request"), counted(m.Rows["runs"], "run"),
		counted(m.Rows["events"], "line")+" of history", counted(m.Files, "file"), inBytes(m.Bytes))
}

func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// inBytes says bytes as people read them.
func inBytes(n int64) string {
	switch {
	case n >= 1<<30:
		return number(float64(n)/(1<<30), 1) + " GiB"
	case n >= 1<<20:
		return number(float64(n)/(1<<20), 1) + " MiB"
	}
	return number(float64(n)/(1<<10), 0) + " KiB"
}
