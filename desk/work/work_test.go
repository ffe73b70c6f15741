package work

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/rivertype"

	"platebook/desk"
	"platebook/desk/store"
	"platebook/engine/say/saytest"
	"platebook/engine/tariff"
	"platebook/internal/pg"
	"platebook/internal/program"
)

const computeEnv = "PLATEBOOK_TEST_COMPUTE"

// TestMain makes the test's own program do a task when it is asked to, as the
// real one does.
func TestMain(m *testing.M) {
	if os.Getenv(computeEnv) != "" {
		os.Exit(Compute(os.Stdin, os.Stdout))
	}
	os.Exit(pg.Main(m))
}

// onBoth runs a test on either database.
func onBoth(t *testing.T, do func(t *testing.T, open store.Options)) {
	t.Run("SQLite", func(t *testing.T) { do(t, store.Options{}) })
	t.Run("PostgreSQL", func(t *testing.T) { do(t, store.Options{Database: pg.Database(t)}) })
}

// apart is the command that computes a task in a process of its own: the test's
// own program, or, where that looks for races, the real one. What is computed
// there has no second thread to race with, and would take ten times as long.
func apart(t *testing.T) []string {
	t.Helper()
	if program.Raced {
		path, err := program.Path()
		if err != nil {
			t.Fatal(err)
		}
		return []string{path, "compute"}
	}
	me, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	t.Setenv(computeEnv, "1")
	return []string{me}
}

// do does a job as the desk does, but at once.
func (b *bench) do(t *testing.T, j desk.Job) {
	t.Helper()
	w := doer{desk: b.Desk, o: Options{Program: apart(t)}.filled()}
	must(t, w.do(t.Context(), j, true))
}

// bench is a desk to work for, with a branch and a clock of its own.
type bench struct {
	*desk.Desk
	at     time.Time
	store  *store.Store
	work   *Work
	branch desk.ID
	ended  <-chan *river.Event
	seen   map[string]*river.Event // not waited for yet, by kind
}

var monday = time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)

func newBench(t *testing.T, o Options, where ...store.Options) *bench {
	t.Helper()
	ctx := t.Context()
	b := &bench{at: monday}
	now := func() time.Time { return b.at }
	var open store.Options
	if len(where) > 0 {
		open = where[0]
	}
	open.Folder, open.Now = t.TempDir(), now
	s, err := store.Open(ctx, open)
	if err != nil {
		t.Fatal(err)
	}
	b.store, b.Desk = s, &desk.Desk{Store: s, Shelves: s.Shelves(), Now: now, Secret: []byte("a secret"), Program: "test"}
	t.Cleanup(func() { must(t, s.Close()) })
	o.Dialect = s.Dialect()
	if b.work, err = New(ctx, b.Desk, s.DB(), o); err != nil {
		t.Fatal(err)
	}
	s.SetEnqueue(b.work.Enqueue)
	branch := desk.Branch{ID: desk.NewID(), Name: "Merebank"}
	printer := desk.PrinterUnit{ID: desk.NewID(), Name: "Left", Branch: branch.ID, Model: "millrace-200"}
	must(t, s.Write(ctx, func(tx desk.Tx) error { return errors.Join(tx.SaveBranch(&branch), tx.SavePrinter(&printer)) }))
	b.branch = branch.ID
	// Short prints are small ones, whose ways are found quickly.
	rules := desk.DefaultRules()
	rules.Longest.Duration = 20 * time.Minute
	doc, err := json.Marshal(rules)
	must(t, err)
	must(t, s.Write(ctx, func(tx desk.Tx) error {
		return tx.SaveSetting(&desk.Setting{Kind: desk.RulesSetting, Version: 1, Body: doc, Since: b.at, By: "test"})
	}))
	return b
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// start begins the work and lets go of it when the test ends.
func (b *bench) start(t *testing.T) {
	t.Helper()
	ended, cancel := b.work.client.Subscribe(river.EventKindJobCompleted, river.EventKindJobFailed, river.EventKindJobSnoozed)
	t.Cleanup(cancel)
	b.ended, b.seen = ended, map[string]*river.Event{}
	must(t, b.work.Start(context.Background()))
	t.Cleanup(func() { must(t, b.work.Stop(context.Background())) })
}

// await waits for a job of a kind to end.
func (b *bench) await(t *testing.T, kind desk.JobKind) *river.Event {
	t.Helper()
	for {
		if e := b.seen[string(kind)]; e != nil {
			delete(b.seen, string(kind))
			return e
		}
		e := <-b.ended
		b.seen[e.Job.Kind] = e
	}
}

// send asks for prints of files, as a patron would.
func (b *bench) send(t *testing.T, wish desk.Wish, files map[string][]byte) desk.Request {
	t.Helper()
	s := desk.Submission{Form: string(desk.NewID()), Source: "page", Branch: b.branch, Wish: wish, Accept: true, Age: "over",
		Contact: desk.Contact{Name: "Ada Reed", Email: "ada@example.org", Language: "en"}}
	s.Wish.Rights, s.Wish.Copies = true, max(wish.Copies, 1)
	for name, data := range files {
		h, n, err := b.Shelves.Put(t.Context(), bytes.NewReader(data), 1<<30)
		must(t, err)
		s.Files = append(s.Files, desk.Upload{Name: name, Hash: h, Size: n})
	}
	slices.SortFunc(s.Files, func(x, y desk.Upload) int { return strings.Compare(x.Name, y.Name) })
	got, err := b.Submit(t.Context(), s, desk.APatron())
	must(t, err)
	return got.Request
}

func (b *bench) request(t *testing.T, id desk.ID) (r desk.Request, files []desk.File) {
	t.Helper()
	must(t, b.Store.Read(t.Context(), func(tx desk.Tx) (err error) {
		if r, err = tx.Request(id); err != nil {
			return err
		}
		files, err = tx.FilesOf(id)
		return err
	}))
	return r, files
}

// block is a box as ASCII STL, mm.
func block(w, d, h float64) []byte {
	corner := func(i int) [3]float64 {
		return [3]float64{w * float64(i&1), d * float64(i>>1&1), h * float64(i>>2&1)}
	}
	var b bytes.Buffer
	fmt.Fprintln(&b, "solid block")
	for _, f := range [][3]int{{0, 2, 3}, {0, 3, 1}, {4, 5, 7}, {4, 7, 6}, {0, 1, 5}, {0, 5, 4}, {2, 6, 7}, {2, 7, 3}, {0, 4, 6}, {0, 6, 2}, {1, 3, 7}, {1, 7, 5}} {
		fmt.Fprintln(&b, "facet normal 0 0 0\nouter loop")
		for _, i := range f {
			c := corner(i)
			fmt.Fprintf(&b, "vertex %g %g %g\n", c[0], c[1], c[2])
		}
		fmt.Fprintln(&b, "endloop\nendfacet")
	}
	fmt.Fprintln(&b, "endsolid block")
	return b.Bytes()
}

// What comes in is checked, planned and offered by itself, on the queue and in
// a process of its own.
func TestAFileIsCheckedAndWaysAreSought(t *testing.T) { onBoth(t, aFileIsCheckedAndWaysAreSought) }

func aFileIsCheckedAndWaysAreSought(t *testing.T, where store.Options) {
	b := newBench(t, Options{Program: apart(t)}, where)
	b.start(t)
	r := b.send(t, desk.Wish{}, map[string][]byte{"name.stl": block(20, 14, 6), "read-me.stl": []byte("the mere lies still")})
	b.await(t, desk.FindWays)
	r, files := b.request(t, r.ID)
	if len(files) != 2 || files[0].Check != desk.Done || files[1].Check != desk.Done {
		t.Fatalf("files are %+v", files)
	}
	good, bad := files[0].Result, files[1].Result
	if files[0].Name == "read-me.stl" {
		good, bad = bad, good
	}
	if bad.Answer.Printable || bad.Sheet != "" {
		t.Errorf("what is no model came out as %+v", bad)
	}
	if !good.Answer.Printable || good.Program != "test" || good.Shape == "" {
		t.Errorf("the check came out as %+v", good)
	}
	for what, h := range map[string]desk.Hash{"sheet": good.Sheet, "still": good.Still, "view": good.View, "ways": r.Basis.Picture, "way": r.Ways[0].Still} {
		blob, err := b.Shelves.Open(t.Context(), h)
		if err != nil {
			t.Errorf("%s: %v", what, err)
			continue
		}
		head := make([]byte, 4)
		_, err = io.ReadFull(blob, head)
		must(t, errors.Join(err, blob.Close()))
		// PNG: RFC 2083, 3.1; the view is our own.
		if want := map[bool]string{true: "DVW1", false: "\x89PNG"}[what == "view"]; string(head) != want {
			t.Errorf("%s begins with %q", what, head)
		}
		must(t, b.Store.Read(t.Context(), func(tx desk.Tx) error {
			used, err := tx.HashUsed(h)
			if !used {
				t.Errorf("nothing refers to %s", what)
			}
			return err
		}))
	}
	if len(r.Ways) < 2 || r.Ways[0].ID != "sensible" || r.Basis.State != desk.Done {
		t.Errorf("ways %v, basis %+v", r.Ways, r.Basis)
	}
}

// A process of its own and this one come to the same answer.
func TestApartAsHere(t *testing.T) {
	b := newBench(t, Options{})
	program := apart(t)
	r := b.send(t, desk.Wish{Copies: 3}, map[string][]byte{"name.stl": block(20, 14, 6)})
	_, files := b.request(t, r.ID)
	w := doer{desk: b.Desk, o: Options{}.filled()}
	set, err := b.Settings(t.Context())
	must(t, err)
	var got [2]result
	for i := range got {
		w.o.Program = [][]string{nil, program}[i]
		checked, err := w.compute(t.Context(), task{Kind: desk.CheckFile, Settings: set}, files, time.Hour, nil)
		must(t, err)
		files[0].Check, files[0].Result = desk.Done, checked.Checked
		plan := desk.Suggest(r, files, set, nil)
		got[i], err = w.compute(t.Context(), task{Kind: desk.FindWays, Settings: set, Plan: plan}, files, time.Hour, nil)
		must(t, err)
		got[i].Checked = checked.Checked
		got[i].Checked.Answer.Solid, got[i].Checked.Answer.Plan = nil, nil
	}
	if d := cmp.Diff(got[0], got[1], cmpopts.EquateEmpty()); d != "" {
		t.Errorf("apart it is not as here:\n%s", d)
	}
	if len(got[0].Made) < 4 {
		t.Errorf("made only %v", got[0].Made)
	}
}

// What a task of its own may not: more memory, more time, falling over. The
// file is kept, and staff are told.
func TestATaskThatFails(t *testing.T) {
	for _, c := range []struct {
		name string
		o    func(*testing.T) Options
		says string
	}{
		{"memory", func(t *testing.T) Options { return Options{Program: apart(t), Memory: 1 << 20} }, sayMemory},
		{"time", func(t *testing.T) Options { return Options{Program: apart(t), CheckTime: time.Nanosecond} },
			"It took longer than 1 min and was broken off. The model may be too intricate; ask for a simpler one."},
		{"time, here", func(t *testing.T) Options { return Options{CheckTime: time.Nanosecond} },
			"It took longer than 1 min and was broken off. The model may be too intricate; ask for a simpler one."},
		{"crash", func(t *testing.T) Options {
			return Options{Program: []string{"/bin/sh", "-c", "echo broken >&2; exit 3"}}
		}, sayCrash},
		{"nonsense", func(t *testing.T) Options { return Options{Program: []string{"/bin/echo", "all is well"}} }, sayCrash},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(t, c.o(t))
			r := b.send(t, desk.Wish{}, map[string][]byte{"name.stl": block(20, 14, 6)})
			_, files := b.request(t, r.ID)
			w := doer{desk: b.Desk, o: c.o(t).filled()}
			must(t, w.do(t.Context(), desk.Job{Kind: desk.CheckFile, ID: files[0].ID}, false))
			_, files = b.request(t, r.ID)
			if files[0].Check != desk.Failed || files[0].Doing != c.says {
				t.Errorf("%s: %q", files[0].Check, files[0].Doing)
			}
			blob, err := b.Shelves.Open(t.Context(), files[0].Hash)
			must(t, err)
			must(t, blob.Close())

			// Staff have it done once more, and this time it may take what it needs.
			staff := desk.Actor{Kind: desk.ByStaff, Name: "Ivo", Grants: []desk.Grant{{Role: desk.Reviewer}}}
			must(t, b.CheckAgain(t.Context(), staff, files[0].ID))
			if _, files = b.request(t, r.ID); files[0].Check != desk.Waiting || files[0].Doing != "" {
				t.Errorf("to be done again: %s, %q", files[0].Check, files[0].Doing)
			}
			if c.name != "crash" {
				return
			}
			b.do(t, desk.Job{Kind: desk.CheckFile, ID: files[0].ID})
			if _, files = b.request(t, r.ID); files[0].Check != desk.Done || files[0].Doing != "" {
				t.Errorf("done again: %s, %q", files[0].Check, files[0].Doing)
			}
		})
	}
}

// Do does a job at once and in this process.
func TestDo(t *testing.T) {
	b := newBench(t, Options{})
	r := b.send(t, desk.Wish{}, map[string][]byte{"read-me.stl": []byte("the mere lies still")})
	_, files := b.request(t, r.ID)
	must(t, Do(t.Context(), b.Desk, desk.Job{Kind: desk.CheckFile, ID: files[0].ID}))
	if _, files = b.request(t, r.ID); files[0].Check != desk.Done || files[0].Result == nil || files[0].Result.Answer.Printable {
		t.Errorf("the file is %s: %+v", files[0].Check, files[0].Result)
	}
	must(t, Do(t.Context(), b.Desk, desk.Job{Kind: desk.CheckFile, ID: "nothing's"}))
	if err := Do(t.Context(), b.Desk, desk.Job{Kind: "sing"}); err == nil {
		t.Error("a job there is not was done")
	}
}

func TestAPanicIsAMistakeOfOurs(t *testing.T) {
	_, err := here(t.Context(), nil, func(func(string)) (result, error) { panic("a mistake") })
	if why, ok := note(err, false); !ok || why != sayCrash {
		t.Errorf("a panic is told as %q (%v)", why, err)
	}
}

// A job is there if what caused it is, and once.
func TestJobsAreThereWithTheirCauseAndOnce(t *testing.T) {
	onBoth(t, jobsAreThereWithTheirCauseAndOnce)
}

func jobsAreThereWithTheirCauseAndOnce(t *testing.T, where store.Options) {
	b := newBench(t, Options{}, where)
	ctx := t.Context()
	file, request := desk.NewID(), desk.NewID()
	put := func(undo error, jobs ...desk.Job) {
		t.Helper()
		err := b.Store.Write(ctx, func(tx desk.Tx) error {
			for _, j := range jobs {
				if err := tx.Enqueue(j); err != nil {
					return err
				}
			}
			return undo
		})
		if !errors.Is(err, undo) {
			t.Fatal(err)
		}
	}
	count := func() (n int) {
		t.Helper()
		must(t, b.store.DB().QueryRowContext(ctx, "SELECT count(*) FROM river_job").Scan(&n))
		return n
	}
	put(errors.New("no"), desk.Job{Kind: desk.CheckFile, ID: file})
	if n := count(); n != 0 {
		t.Fatalf("%d jobs of nothing", n)
	}
	for i, c := range []struct {
		job  desk.Job
		want int
	}{
		{desk.Job{Kind: desk.CheckFile, ID: file}, 1},
		{desk.Job{Kind: desk.CheckFile, ID: file}, 1},           // waits already
		{desk.Job{Kind: desk.CheckFile, ID: file, Round: 7}, 2}, // asked for again
		{desk.Job{Kind: desk.FindWays, ID: request, Round: 1}, 3},
		{desk.Job{Kind: desk.FindWays, ID: request, Round: 1}, 3},
		{desk.Job{Kind: desk.FindWays, ID: request, Round: 2}, 4}, // another plan
	} {
		put(nil, c.job)
		if n := count(); n != c.want {
			t.Errorf("%d: %d jobs, want %d", i, n, c.want)
		}
	}
}

// What a process that was killed had begun is taken up at the next start.
func TestWhatADeadProcessHadBegunIsDone(t *testing.T) { onBoth(t, whatADeadProcessHadBegunIsDone) }

func whatADeadProcessHadBegunIsDone(t *testing.T, where store.Options) {
	command := apart(t)
	for _, apart := range []bool{false, true} {
		if where.Database != "" && !apart {
			continue // what differs is one expression, run on either
		}
		b := newBench(t, Options{Program: command}, where)
		ctx := t.Context()
		r := b.send(t, desk.Wish{}, map[string][]byte{"name.stl": block(20, 14, 6)})
		_, files := b.request(t, r.ID)
		if _, err := b.FileForCheck(ctx, files[0].ID); err != nil {
			t.Fatal(err)
		}
		// As River leaves it, with the leader's lease still good for an hour.
		later := time.Now().UTC().Add(time.Hour)
		sqlExec(t, b.store.DB(), "UPDATE river_job SET state = 'running', attempt = 2")
		sqlExec(t, b.store.DB(), "INSERT INTO river_leader (leader_id, elected_at, expires_at) VALUES ('dead', $1, $2)", later, later)
		must(t, putBack(ctx, b.store.DB(), apart))
		var attempt int
		must(t, b.store.DB().QueryRowContext(ctx, "SELECT attempt FROM river_job WHERE state = 'available'").Scan(&attempt))
		if want := map[bool]int{false: 2, true: 1}[apart]; attempt != want {
			t.Errorf("apart %v: tries counted %d, want %d", apart, attempt, want)
		}
		b.start(t)
		b.await(t, desk.FindWays)
		if r, _ = b.request(t, r.ID); len(r.Ways) == 0 {
			t.Errorf("no ways: %+v", r.Basis)
		}
		b.await(t, desk.LookRound)
	}
}

// Copies of patrons' files are made in the desk's own folder only, and what a
// killed desk left of them goes at the next start: else what is forgotten would
// lie about for good.
func TestCopiesOfADeadProcessGo(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "work")
	left := filepath.Join(folder, "platebook-1", "file-0")
	must(t, os.MkdirAll(filepath.Dir(left), 0o700))
	must(t, os.WriteFile(left, []byte("solid name"), 0o600))
	b := newBench(t, Options{Folder: folder})
	if there, err := os.ReadDir(folder); err != nil || len(there) > 0 {
		t.Errorf("after the start there are %v, %v", there, err)
	}
	must(t, os.Remove(folder))
	w := doer{desk: b.Desk, o: Options{Folder: folder}.filled()}
	if _, err := w.compute(t.Context(), task{Kind: desk.CheckFile}, nil, time.Minute, nil); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("without its folder a check came to %v", err)
	}
}

// A job that brings the process down each time is given up.
func TestAJobThatBringsTheProcessDownIsGivenUp(t *testing.T) {
	b := newBench(t, Options{})
	r := b.send(t, desk.Wish{}, map[string][]byte{"name.stl": block(20, 14, 6)})
	sqlExec(t, b.store.DB(), "UPDATE river_job SET state = 'running', attempt = $1", mostTries)
	must(t, putBack(t.Context(), b.store.DB(), false))
	b.start(t)
	b.await(t, desk.CheckFile)
	if _, files := b.request(t, r.ID); files[0].Check != desk.Failed {
		t.Errorf("the file is %s", files[0].Check)
	}
}

func sqlExec(t *testing.T, db *sql.DB, q string, args ...any) {
	t.Helper()
	_, err := db.ExecContext(t.Context(), q, args...)
	must(t, err)
}

// A round that fails is tried again within minutes, however often it failed;
// a check that fails, more and more seldom.
func TestARoundIsNeverLongInComing(t *testing.T) {
	for failed := range 20 {
		for kind, most := range map[desk.JobKind]time.Duration{desk.LookRound: 5 * time.Minute, desk.CheckFile: 2*time.Hour + time.Minute} {
			wait := time.Until(backOff{}.NextRetry(&rivertype.JobRow{Kind: string(kind), Errors: make([]rivertype.AttemptError, failed)}))
			if wait <= 0 || wait > most {
				t.Errorf("%s, after failing %d times: in %v", kind, failed, wait)
			}
		}
	}
	if wait := time.Until(backOff{}.NextRetry(&rivertype.JobRow{Kind: string(desk.CheckFile), Errors: make([]rivertype.AttemptError, 7)})); wait < time.Hour {
		t.Errorf("a check that failed seven times is tried again in %v", wait)
	}
}

// What the machine cannot do is tried again, and told at the last try only.
func TestTheMachinesFaultsAreTriedAgain(t *testing.T) {
	b := newBench(t, Options{})
	r := b.send(t, desk.Wish{}, map[string][]byte{"name.stl": block(20, 14, 6)})
	_, files := b.request(t, r.ID)
	full := &fullShelves{Shelves: b.Shelves}
	full.is.Store(true)
	b.Shelves = full
	w := doer{desk: b.Desk, o: Options{Program: apart(t)}.filled()}
	job := desk.Job{Kind: desk.CheckFile, ID: files[0].ID}
	if err := w.do(t.Context(), job, false); desk.KindOf(err) != desk.NoRoom {
		t.Errorf("a full disk came out as %v", err)
	}
	if _, files = b.request(t, r.ID); files[0].Check != desk.Checking {
		t.Errorf("the file is %s", files[0].Check)
	}
	must(t, w.do(t.Context(), job, true))
	if _, files = b.request(t, r.ID); files[0].Check != desk.Failed {
		t.Errorf("after the last try the file is %s", files[0].Check)
	}
}

// fullShelves have no room.
type fullShelves struct {
	desk.Shelves
	is atomic.Bool
}

func (f *fullShelves) Put(ctx context.Context, r io.Reader, most int64) (desk.Hash, int64, error) {
	if f.is.Load() {
		return "", 0, desk.Faultf(desk.NoRoom, "There is no room.")
	}
	return f.Shelves.Put(ctx, r, most)
}

// An answer to a plan that was changed meanwhile is dropped.
func TestAnAnswerToAnOlderPlanIsDropped(t *testing.T) {
	b := newBench(t, Options{})
	r := b.send(t, desk.Wish{}, map[string][]byte{"name.stl": block(20, 14, 6)})
	_, files := b.request(t, r.ID)
	b.do(t, desk.Job{Kind: desk.CheckFile, ID: files[0].ID})
	r, _ = b.request(t, r.ID)
	asked := r.Basis.Asked
	if asked == 0 || r.Basis.State != desk.Waiting {
		t.Fatalf("after the check the basis is %+v", r.Basis)
	}
	must(t, b.KeepWays(t.Context(), r.ID, asked-1, []desk.Way{{ID: "sensible"}}, desk.Basis{}))
	if r, _ = b.request(t, r.ID); len(r.Ways) != 0 || r.Basis.State != desk.Waiting {
		t.Errorf("an older answer was kept: %+v", r.Ways)
	}
	must(t, Do(t.Context(), b.Desk, desk.Job{Kind: desk.FindWays, ID: r.ID, Round: asked + 1}))
	if r, _ = b.request(t, r.ID); len(r.Ways) != 0 {
		t.Errorf("a job for another plan was done: %+v", r.Ways)
	}
	b.do(t, desk.Job{Kind: desk.FindWays, ID: r.ID, Round: asked})
	if r, _ = b.request(t, r.ID); len(r.Ways) == 0 {
		t.Errorf("no ways: %+v", r.Basis)
	}
}

// The figures of a way are those of its plates, its price is the tariff's for
// all of them together, and no plate takes longer than the longest print.
func TestPlatesAddUp(t *testing.T) {
	b := newBench(t, Options{})
	rules := desk.DefaultRules()
	rules.Longest.Duration = 50 * time.Minute
	set, err := b.Settings(t.Context())
	must(t, err)
	set.Rules = rules
	w := doer{desk: b.Desk, o: Options{Program: apart(t)}.filled()}
	r := b.send(t, desk.Wish{Copies: 4}, map[string][]byte{
		"tile.stl": block(20, 14, 6), "cube.stl": block(12, 12, 12),
	})
	_, files := b.request(t, r.ID)
	plan := desk.Plan{Printer: "millrace-200", Materials: []string{"pla"}}
	for _, f := range files {
		plan.Parts = append(plan.Parts, desk.PartPlan{File: f.ID, Copies: 4, LongestMM: 16})
	}
	got, err := w.compute(t.Context(), task{Kind: desk.FindWays, Settings: set, Plan: plan}, files, time.Hour, nil)
	must(t, err)
	if len(got.Ways) == 0 {
		t.Fatalf("no ways: %+v", got.Basis)
	}
	several := false
	for _, way := range got.Ways {
		grams, seconds, copies := 0.0, 0.0, map[desk.ID]int{}
		for _, p := range way.Plates {
			grams, seconds = grams+p.Grams["pla"], seconds+p.Seconds
			if p.Seconds > rules.Longest.Seconds() {
				t.Errorf("%s: a plate takes %.0f s", way.ID, p.Seconds)
			}
			n := 0
			for id, c := range p.Copies {
				copies[id] += c
				n += c
			}
			several = several || n > 1
		}
		for _, f := range files {
			if copies[f.ID] != 4 {
				t.Errorf("%s: %d copies of %s", way.ID, copies[f.ID], f.Name)
			}
		}
		if d := way.Grams["pla"] - grams; d > 1e-5 || d < -1e-5 || way.Seconds != seconds {
			t.Errorf("%s says %.6f g and %.3f s, its plates %.6f g and %.3f s", way.ID, way.Grams["pla"], way.Seconds, grams, seconds)
		}
		price, err := set.Tariff.Price(tariff.Order{
			Items:  []tariff.Item{{Material: "pla", Grams: way.Grams["pla"]}},
			Prints: len(way.Plates), Copies: 8, Seconds: seconds,
		})
		must(t, err)
		if price.Total != way.Price.Total {
			t.Errorf("%s costs %s, by its grams %s", way.ID, way.Price.Total, price.Total)
		}
		saytest.French(t, way.ID, way.Saying)
		for _, said := range way.PriceSayings {
			saytest.French(t, way.ID, said)
		}
		if way.Says == "" || way.Still == "" {
			t.Errorf("%s says %q, still %q", way.ID, way.Says, way.Still)
		}
		// The longest side is as wished; a box stands flat in any pose.
		if way.ID != "largest" {
			for _, p := range way.Parts {
				longest := 0.0
				for _, mm := range p.SizeMM {
					longest = max(longest, mm)
				}
				if longest < 15.9 || longest > 16.1 {
					t.Errorf("%s: %s is %v", way.ID, p.File, p.SizeMM)
				}
			}
		}
	}
	if !several {
		t.Error("every copy has a plate of its own")
	}
}

// Where nothing does, staff read what would.
func TestWhereNothingDoes(t *testing.T) {
	b := newBench(t, Options{})
	set, err := b.Settings(t.Context())
	must(t, err)
	set.Rules.Longest.Duration = 220 * time.Second // half a minute longer than it takes to warm up: pieces would do
	w := doer{desk: b.Desk, o: Options{Program: apart(t)}.filled()}
	r := b.send(t, desk.Wish{}, map[string][]byte{"name.stl": block(20, 14, 6)})
	_, files := b.request(t, r.ID)
	plan := desk.Plan{Parts: []desk.PartPlan{{File: files[0].ID, Copies: 1}}}
	got, err := w.compute(t.Context(), task{Kind: desk.FindWays, Settings: set, Plan: plan}, files, time.Hour, nil)
	must(t, err)
	if len(got.Ways) != 0 || got.Basis.Trouble == "" || len(got.Basis.Without) == 0 || len(got.Basis.Instead) == 0 {
		t.Errorf("ways %v, basis %+v", got.Ways, got.Basis)
	}
	plan.Printer = "no-such-printer"
	_, err = w.compute(t.Context(), task{Kind: desk.FindWays, Settings: set, Plan: plan}, files, time.Hour, nil)
	if why, ok := note(err, false); !ok {
		t.Errorf("a printer that is not there is told as %q (%v)", why, err)
	}
}
