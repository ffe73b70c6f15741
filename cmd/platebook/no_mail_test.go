package main

import (
	"log/slog"
	"net"
	"path/filepath"
	"testing"
	"time"

	"platebook/desk"
	"platebook/desk/demo"
)

// A copy that is only looked at leaves the library's mailbox alone; the desk
// itself does not.
func TestServeWithoutMail(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "desk")
	furnish(t, folder)
	box, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer box.Close()
	called := make(chan struct{}, 100)
	go func() {
		for {
			c, err := box.Accept()
			if err != nil {
				return
			}
			c.Close()
			called <- struct{}{}
		}
	}()
	office, err := demo.OpenOffice()
	if err != nil {
		t.Fatal(err)
	}
	defer office.Close()
	r, err := house{Folder: folder}.open(t.Context(), slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	err = r.store.Write(t.Context(), func(tx desk.Tx) error {
		branches, err := tx.Branches()
		if err != nil {
			return err
		}
		set, err := office.Settings(r.desk, branches[0].ID)
		if err != nil {
			return err
		}
		set.In.Address = box.Addr().String()
		return r.desk.SettleMail(tx, set)
	})
	if err := r.close(t.Context()); err != nil {
		t.Fatal(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	looked := openDesk(t, serveCommand{house: house{Folder: folder}, NoMail: true})
	select {
	case <-called:
		t.Error("the mailbox was opened all the same")
	case <-time.After(3 * time.Second):
	}
	if err := looked.close(); err != nil {
		t.Fatal(err)
	}
	openDesk(t, serveCommand{house: house{Folder: folder}})
	select {
	case <-called:
	case <-time.After(time.Minute):
		t.Error("without the flag the mailbox is not opened: this test shows nothing")
	}
}
