package mail

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"
	"time"

	"platebook/desk"
	"platebook/desk/store"
	"platebook/internal/pg"
	"platebook/internal/post"
)

// TestMain lets the test binary be the desk that is killed.
func TestMain(m *testing.M) {
	if folder := os.Getenv("PLATEBOOK_TEST_MAIL_DESK"); folder != "" {
		if err := keepMail(folder); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	os.Exit(pg.Main(m))
}

func openDesk(folder string) (*desk.Desk, *store.Store, error) {
	s, err := store.Open(context.Background(), store.Options{Folder: folder, Enqueue: func(context.Context, *sql.Tx, desk.Job) error { return nil }})
	if err != nil {
		return nil, nil, err
	}
	return &desk.Desk{Store: s, Shelves: s.Shelves(), Now: time.Now, Secret: []byte("thirty-two bytes for larkmere ok")}, s, nil
}

// keepMail keeps the mail of a desk until it is killed, or told to end by the
// end of its input.
func keepMail(folder string) error {
	d, s, err := openDesk(folder)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithCancel(context.Background())
	go func() { io.Copy(io.Discard, os.Stdin); cancel() }()
	(&Service{Desk: d, Every: 20 * time.Millisecond}).Run(ctx)
	return s.Close()
}

// The desk is killed at moments drawn at random while letters come in and
// answers go out. In the end every letter has caused one request, and every
// request one answer; an answer may have gone out twice, under one Message-ID.
// PLATEBOOK_KILLS=100 kills it a hundred times.
func TestKilled(t *testing.T) {
	kills := 8
	if n, err := strconv.Atoi(os.Getenv("PLATEBOOK_KILLS")); err == nil {
		kills = n
	}
	letters := 5 * kills
	o := post.Open(t, time.Hour)
	folder := t.TempDir()
	now := time.Now()
	_, s, err := openDesk(folder)
	if err != nil {
		t.Fatal(err)
	}
	rules := desk.DefaultRules()
	rules.PerMonth = 0
	mail := throughOffice(t, o)
	err = s.Write(t.Context(), func(tx desk.Tx) error {
		if err := tx.SaveBranch(&desk.Branch{ID: desk.NewID(), Name: "Mill Street"}); err != nil {
			return err
		}
		for k, v := range map[desk.SettingKind]any{desk.MailSetting: mail, desk.RulesSetting: rules} {
			b, err := json.Marshal(v)
			if err != nil {
				return err
			}
			if err := tx.SaveSetting(&desk.Setting{Kind: k, Version: 1, Body: b, Since: now}); err != nil {
				return err
			}
		}
		return nil
	})
	if err == nil {
		err = s.Close()
	}
	if err != nil {
		t.Fatal(err)
	}

	random := rand.New(rand.NewPCG(20261125, 5))
	sent, killed := 0, 0
	var child *exec.Cmd
	start := func() io.Closer {
		child = exec.Command(os.Args[0])
		child.Env = append(os.Environ(), "PLATEBOOK_TEST_MAIL_DESK="+folder)
		child.Stderr = os.Stderr
		in, err := child.StdinPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := child.Start(); err != nil {
			t.Fatal(err)
		}
		return in
	}
	for killed < kills {
		in := start()
		for range letters / kills {
			text := enclose("hook.stl", fmt.Appendf(nil, "solid hook %d %s", sent, strings.Repeat("x", random.IntN(60_000))))
			deliver(t, o, "print", strings.Replace(text, "From: a@x.example\n", fmt.Sprintf("From: patron@larkmere.example\nSubject: letter %04d\nMessage-ID: <%d@patrons.example>\n", sent, sent), 1))
			sent++
		}
		time.Sleep(time.Duration(50+random.IntN(900)) * time.Millisecond) // when to kill, not when to look
		if err := child.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		child.Wait()
		in.Close()
		killed++
	}
	in := start()
	patron := newLedger()
	box := inbox(o, "patron", patron)
	until(t, func() bool {
		if _, err := box.Once(t.Context()); err != nil {
			t.Fatal(err)
		}
		ids := map[string]bool{}
		for _, l := range patron.letters {
			ids[l.ID] = true
		}
		return len(ids) >= sent
	})
	in.Close()
	if err := child.Wait(); err != nil {
		t.Fatal(err)
	}
	d, s, err := openDesk(folder)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	all, conversation := requests(t, d)
	subjects := map[string]int{}
	for _, r := range all {
		subject, _, _ := strings.Cut(r.Wish.Note, "\n")
		subjects[subject]++
		if n := len(conversation[r.ID]); n != 1 {
			t.Errorf("%s: %d messages, want the one that says we have it", subject, n)
		}
		err := d.Store.Read(t.Context(), func(tx desk.Tx) error {
			files, err := tx.FilesOf(r.ID)
			if err != nil {
				return err
			}
			for _, f := range files {
				b, err := d.Shelves.Open(t.Context(), f.Hash)
				if err != nil {
					return err
				}
				text, err := io.ReadAll(b)
				b.Close()
				if err != nil || desk.HashOf(text) != f.Hash || !strings.HasPrefix(string(text), "solid hook ") {
					t.Errorf("%s: the file is not what was sent: %v", subject, err)
				}
			}
			if len(files) != 1 {
				t.Errorf("%s: %d files", subject, len(files))
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if len(all) != sent || len(subjects) != sent {
		t.Errorf("%d letters caused %d requests, of %d subjects", sent, len(all), len(subjects))
	}
	ids, twice := map[string]int{}, 0
	for _, l := range patron.letters {
		if ids[l.ID]++; ids[l.ID] > 1 {
			twice++
		}
	}
	if len(ids) != sent {
		t.Errorf("%d answers went out to %d letters", len(ids), sent)
	}
	t.Logf("killed %d times; %d letters, %d requests, %d answers, of which %d went out a second time under their own Message-ID", killed, sent, len(all), len(ids), twice)
}
