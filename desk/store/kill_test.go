package store_test

import (
	"bufio"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"strings"
	"testing"

	"platebook/desk"
	"platebook/desk/store"
)

const killEnv = "PLATEBOOK_TEST_KILL"

// TestKilled: a desk killed at random moments, again and again in the same
// folder, keeps every form it acknowledged, whole, and nothing half done; the
// next one opens without ado.
func TestKilled(t *testing.T) {
	o := store.Options{Folder: t.TempDir()}
	rnd := rand.New(rand.NewPCG(3, 1))
	acknowledged := map[string]bool{}
	for life := range 12 {
		cmd := exec.Command(os.Args[0], "-test.run=^TestKillee$")
		cmd.Env = append(os.Environ(), fmt.Sprintf("%s=%d %s", killEnv, life, o.Folder))
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		left := 1 + rnd.IntN(40)
		for lines := bufio.NewScanner(out); lines.Scan(); {
			form, ok := strings.CutPrefix(lines.Text(), "kept ")
			if !ok {
				t.Fatalf("life %d: %s", life, lines.Text())
			}
			acknowledged[form] = true
			if left--; left == 0 {
				cmd.Process.Kill() // what it still says until it is dead counts too
			}
		}
		cmd.Wait()
		if left > 0 {
			t.Fatalf("life %d ended by itself", life)
		}
	}
	s := openStore(t, o)
	err := s.Read(t.Context(), func(tx desk.Tx) error {
		all, err := tx.ListRequests(desk.RequestFilter{})
		if err != nil {
			return err
		}
		for _, r := range all {
			files, err1 := tx.FilesOf(r.ID)
			events, err2 := tx.Events(r.ID, 0)
			if err := errors.Join(err1, err2); err != nil {
				return err
			}
			if len(files) != 1 || len(events) != 1 || !strings.HasPrefix(bytesOf(t, s, files[0].Hash), r.Form+" part") {
				t.Errorf("form %s is half done: %d files, %d lines of history", r.Form, len(files), len(events))
			}
			delete(acknowledged, r.Form)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(acknowledged) > 0 {
		t.Errorf("acknowledged and lost: %v", acknowledged)
	}
	var said string
	if err := s.DB().QueryRow("PRAGMA integrity_check").Scan(&said); err != nil || said != "ok" {
		t.Errorf("the database is not whole: %s, %v", said, err)
	}
}

// TestKillee is the desk that TestKilled kills.
func TestKillee(t *testing.T) {
	var life int
	life1, folder, ok := strings.Cut(os.Getenv(killEnv), " ")
	if _, err := fmt.Sscan(life1, &life); !ok || err != nil {
		t.Skip("runs as the desk that TestKilled kills")
	}
	s, err := store.Open(t.Context(), store.Options{Folder: folder})
	if err != nil {
		fmt.Println("cannot open:", err)
		return
	}
	for w := range 4 {
		go func() {
			for i := 0; ; i++ {
				form := fmt.Sprintf("%d-%d-%d", life, w, i)
				if err := send(t.Context(), s, form); err != nil {
					fmt.Println("not kept:", err)
					return
				}
				fmt.Println("kept", form)
			}
		}()
	}
	select {}
}
