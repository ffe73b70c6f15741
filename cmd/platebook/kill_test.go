package main

import (
	"bufio"
	"context"
	"database/sql"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"sync"
	"testing"
	"time"

	"platebook/desk"
	"platebook/internal/pg"
)

// programEnv makes the test's own binary the program: then a test can start it,
// and kill it, as the system would.
const programEnv = "PLATEBOOK_TEST_PROGRAM"

// TestKilledAtAnyMoment starts the program, lets patrons and staff go about it,
// kills it with SIGKILL at a moment drawn by chance, looks at everything that
// was acknowledged, and does so again; in the end what was begun is completed.
//
// PLATEBOOK_KILLS says how often (make kill: 100; a tenth of it on PostgreSQL),
// PLATEBOOK_SEED from which chance: how people act and when the program dies
// follow from it, as far as the machine's own pace lets them.
func TestKilledAtAnyMoment(t *testing.T) {
	killed(t, house{Folder: t.TempDir()}, fromEnv(t, "PLATEBOOK_KILLS", 5))
}

func TestKilledAtAnyMomentOnPostgreSQL(t *testing.T) {
	killed(t, house{Folder: t.TempDir(), Database: pg.Database(t)}, max(2, fromEnv(t, "PLATEBOOK_KILLS", 5)/10))
}

func killed(t *testing.T, h house, kills int) {
	seed := fromEnv(t, "PLATEBOOK_SEED", 1)
	chance := rand.New(rand.NewPCG(uint64(seed), 0))
	book := newLedger()
	prepare(t, h)
	// First a quiet day, so that there is something to agree to and to pay for.
	p := startProgram(t, h)
	book.people(t, p.at, seed, 0, 5, func() {
		book.await(func() bool {
			return len(book.asked) >= 5 && book.till != nil && book.press != nil || len(book.broken) > 0
		})
	})
	book.settle(t, p.at, h)
	p.stop(t)
	book.compare(t, h, true)
	for i := range kills {
		p := startProgram(t, h)
		// The death comes in the midst of what people do, so it is counted by
		// that and not by the clock alone: a slow machine dies as late in the day.
		acts, later := book.acts+chance.IntN(40), time.Duration(chance.IntN(150))*time.Millisecond
		book.people(t, p.at, seed, i+1, 4, func() {
			book.await(func() bool { return book.acts >= acts || len(book.broken) > 0 })
			time.Sleep(later)
			p.kill(t)
		})
		book.compare(t, h, true)
		if t.Failed() {
			t.Fatalf("after kill %d of %d, seed %d", i+1, kills, seed)
		}
	}
	p = startProgram(t, h)
	book.settle(t, p.at, h)
	p.stop(t)
	book.compare(t, h, false)
	book.complete(t, h)
	t.Log(book.says(kills))
}

// people lets patrons, a cashier and someone who prints go about the desk while
// do runs. They may make so many requests more.
func (b *ledger) people(t *testing.T, at string, seed, round, more int, do func()) {
	b.mu.Lock()
	b.most += more
	b.mu.Unlock()
	ctx, stop := context.WithCancel(t.Context())
	var all sync.WaitGroup
	for n := range 6 {
		all.Go(func() { b.patron(ctx, at, rand.New(rand.NewPCG(uint64(seed), uint64(1+round*100+n)))) })
	}
	all.Go(func() { b.cashier(ctx, at, rand.New(rand.NewPCG(uint64(seed), uint64(99+round*100)))) })
	all.Go(func() { b.operator(ctx, at, rand.New(rand.NewPCG(uint64(seed), uint64(98+round*100)))) })
	do()
	stop()
	all.Wait()
}

func fromEnv(t *testing.T, name string, usual int) int {
	t.Helper()
	text := os.Getenv(name)
	if text == "" {
		return usual
	}
	n, err := strconv.Atoi(text)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return n
}

// prepare sets the desk up as its first manager would.
func prepare(t *testing.T, h house) {
	t.Helper()
	opened(t, h, func(r *rooms) {
		ctx := t.Context()
		r.desk.SetUpWord = "word"
		_, err := r.desk.FirstManager(ctx, desk.FirstForm{Word: "word", Library: "Larkmere Libraries", Address: "http://127.0.0.1", TimeZone: "Europe/London",
			Locale: "en-GB", Languages: []string{"en"}, Currency: "GBP", Branch: "Merebank", Name: managerName, Called: "Mina", Password: managerPassword})
		if err != nil {
			t.Fatal(err)
		}
		// Short prints are small ones, whose ways are found quickly.
		rules := desk.DefaultRules()
		rules.Longest.Duration = 20 * time.Minute
		manager := desk.Actor{Kind: desk.ByStaff, ID: desk.NewID(), Name: "Mina", Grants: []desk.Grant{{Role: desk.Manager}}}
		set, err := r.desk.Settings(ctx)
		if err == nil {
			_, err = r.desk.SaveSetting(ctx, manager, desk.RulesSetting, set.Versions[desk.RulesSetting], rules)
		}
		if err == nil {
			err = printroom(ctx, r.desk, manager)
		}
		if err != nil {
			t.Fatal(err)
		}
	})
}

// printroom is a branch that never closes, with a printer and reels for it.
func printroom(ctx context.Context, d *desk.Desk, by desk.Actor) error {
	all, err := d.Branches(ctx)
	if err != nil {
		return err
	}
	b := all[0]
	for i := range b.Hours {
		b.Hours[i] = []desk.Span{{From: 0, To: 24 * 60}}
	}
	if b, err = d.SaveBranch(ctx, by, b); err != nil {
		return err
	}
	if _, err := d.SavePrinterUnit(ctx, by, desk.PrinterUnit{Name: "Heron", Branch: b.ID, Model: "millrace-200"}); err != nil {
		return err
	}
	_, err = d.SaveSpool(ctx, by, desk.SpoolForm{Form: string(desk.NewID()), Name: "R-01", Branch: b.ID, Material: "pla", Colour: "red", Full: 10_000})
	return err
}

const (
	managerName     = "mina"
	managerPassword = "a reed by the weir at noon"
)

// opened opens the desk while the program is not running, and closes it again.
// Nothing works in the background meanwhile.
func opened(t *testing.T, h house, do func(*rooms)) {
	t.Helper()
	r, err := h.open(t.Context(), slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := r.close(t.Context()); err != nil {
			t.Error(err)
		}
	}()
	do(r)
}

// running is the desk in a process of its own.
type running struct {
	at  string
	cmd *exec.Cmd
	out io.Closer
	log string
}

var openedAt = regexp.MustCompile(`The desk is open at (http://\S+)`)

func startProgram(t *testing.T, h house) *running {
	t.Helper()
	me, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	log := filepath.Join(filepath.Dir(h.Folder), "log")
	errs, err := os.OpenFile(log, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		t.Fatal(err)
	}
	defer errs.Close()
	p := &running{log: log, cmd: exec.Command(me, "serve", "--folder", h.Folder, "--address", "127.0.0.1:0", "--behind-proxy", "127.0.0.1", "--quiet")}
	p.cmd.Env = append(os.Environ(), programEnv+"=1", "PLATEBOOK_DATABASE="+h.Database)
	p.cmd.Stderr = errs
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	p.out = out
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = p.cmd.Process.Kill() })
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if m := openedAt.FindStringSubmatch(lines.Text()); m != nil {
			p.at = m[1]
			go func() { // what else it says must not hold it up
				for lines.Scan() {
				}
			}()
			return p
		}
	}
	text, _ := os.ReadFile(log)
	t.Fatalf("the desk did not open: %v\n%s", p.cmd.Wait(), text)
	return nil
}

// kill ends the program as a power cut does, without a word.
func (p *running) kill(t *testing.T) {
	t.Helper()
	if err := p.cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	if err := p.cmd.Wait(); err == nil {
		t.Fatal("the program ended well, before it was killed")
	}
}

// stop asks the program to close, as the system does when it shuts down.
func (p *running) stop(t *testing.T) {
	t.Helper()
	if err := p.cmd.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	if err := p.cmd.Wait(); err != nil {
		text, _ := os.ReadFile(p.log)
		t.Fatalf("the program did not close well: %v\n%s", err, text)
	}
}

// openJobs counts what is still to be done for an id, by kind.
func openJobs(t *testing.T, db *sql.DB) map[string]int {
	t.Helper()
	rows, err := db.QueryContext(t.Context(), "SELECT kind, args ->> 'id' FROM river_job WHERE finalized_at IS NULL AND kind <> 'look-round'")
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	open := map[string]int{}
	for rows.Next() {
		var kind, id string
		if err := rows.Scan(&kind, &id); err != nil {
			t.Fatal(err)
		}
		open[kind+" "+id]++
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return open
}

func (b *ledger) says(kills int) string {
	b.mu.Lock()
	defer b.mu.Unlock()
	acked, retried, words, agreed, lines, runs, weighed := 0, 0, 0, 0, 0, 0, 0
	for _, q := range b.asked {
		if q.key != "" {
			acked++
		}
		if q.sendings > 1 {
			retried++
		}
		words += len(q.words)
		if q.way != "" {
			agreed++
		}
		lines += len(q.lines)
		if q.run != "" {
			runs++
		}
		if q.weighed {
			weighed++
		}
	}
	return fmt.Sprintf("killed %d times: %d requests acknowledged of %d sent, %d forms sent again, %d messages, %d agreements, %d lines of accounts, %d runs started, %d weighed; all there, none twice, none half done",
		kills, acked, len(b.asked), retried, words, agreed, lines, runs, weighed)
}
