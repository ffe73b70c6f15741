package main

import (
	"context"
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"runtime"
	"time"

	"platebook/desk"
	"platebook/desk/mail"
	"platebook/desk/store"
	"platebook/desk/web"
	"platebook/desk/work"
)

// house says where a desk keeps everything.
type house struct {
	Folder   string `help:"Folder that holds everything; made if it is missing." placeholder:"FOLDER" env:"PLATEBOOK_FOLDER" type:"path" default:"${folder}"`
	Database string `help:"PostgreSQL database, as postgres://…; without it SQLite in the folder." placeholder:"URL" env:"PLATEBOOK_DATABASE"`
	Files    string `help:"Bucket for patrons' files, as file:///…; without it in the folder." placeholder:"URL" env:"PLATEBOOK_FILES"`
}

// workFolder is where copies of files lie while they are checked, in the desk's
// folder: there they are as safe as the files.
const workFolder = "work"

func (h house) options() store.Options {
	return store.Options{Folder: h.Folder, Database: h.Database, Files: h.Files}
}

// dataFolder is where a desk keeps everything unless told otherwise: the place
// the system has for the data of a person's programs.
func dataFolder(system string, env func(string) string, home string) string {
	switch system {
	case "windows":
		if local := env("LocalAppData"); local != "" {
			return filepath.Join(local, "Platebook")
		}
		return filepath.Join(home, "AppData", "Local", "Platebook")
	case "darwin":
		return filepath.Join(home, "Library", "Application Support", "Platebook")
	}
	// XDG Base Directory Specification: a relative path is to be ignored.
	if data := env("XDG_DATA_HOME"); filepath.IsAbs(data) {
		return filepath.Join(data, "platebook")
	}
	return filepath.Join(home, ".local", "share", "platebook")
}

func usualFolder() string {
	home, err := os.UserHomeDir()
	if err != nil {
		home = "." // no home, as in some containers: here
	}
	return dataFolder(runtime.GOOS, os.Getenv, home)
}

// rooms are the rooms of an open desk, wired together.
type rooms struct {
	store *store.Store
	desk  *desk.Desk
	work  *work.Work
	mail  *mail.Service
	log   *slog.Logger
}

// open opens a desk. Its background work does not run before work.Start.
func (h house) open(ctx context.Context, log *slog.Logger) (*rooms, error) {
	r := &rooms{log: log}
	var err error
	if r.store, err = store.Open(ctx, h.options()); err != nil {
		return nil, err
	}
	secret, err := r.store.Secret()
	if err != nil {
		return nil, errors.Join(err, r.close(ctx))
	}
	r.desk = &desk.Desk{Store: r.store, Shelves: r.store.Shelves(), Now: time.Now, Secret: secret, Program: version()}
	own, err := os.Executable()
	if err != nil {
		return nil, errors.Join(err, r.close(ctx))
	}
	r.work, err = work.New(ctx, r.desk, r.store.DB(), work.Options{Dialect: r.store.Dialect(), Log: log, Program: []string{own, "compute"},
		Folder: filepath.Join(h.Folder, workFolder)})
	if err != nil {
		return nil, errors.Join(err, r.close(ctx))
	}
	r.store.SetEnqueue(r.work.Enqueue)
	r.mail = &mail.Service{Desk: r.desk, Log: log}
	return r, nil
}

// site sets up the pages.
func (r *rooms) site(o web.Options) (*web.Site, error) {
	o.Desk, o.Sessions, o.Log, o.MailTroubles = r.desk, r.store.Sessions(), r.log, r.mail.Troubles
	return web.New(o)
}

// close lets everything go; background work goes on at the next start.
func (r *rooms) close(ctx context.Context) error {
	var errs []error
	if r.work != nil {
		errs = append(errs, r.work.Stop(ctx))
	}
	return errors.Join(append(errs, r.store.Close())...)
}

// post keeps the library's mail going until what it returns is called.
func (r *rooms) post(ctx context.Context) (stop func()) {
	ctx, cancel := context.WithCancel(ctx)
	done := make(chan struct{})
	go func() { r.mail.Run(ctx); close(done) }()
	return func() { cancel(); <-done }
}
