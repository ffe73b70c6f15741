package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/url"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"platebook/desk"
	"platebook/internal/visit"
)

// ledger is what people know of what they did: what was acknowledged to them,
// and what they sent without an answer.
type ledger struct {
	mu    sync.Mutex
	asked []*asked
	forms map[string]*asked // by token
	n     int
	till  *visit.Visitor // who takes payments
	press *visit.Visitor // who prints
	most  int            // requests; each is checked and has ways sought, which takes its time
	acts  int            // of anyone, ended well
	// broken are answers that no desk should give.
	broken []string
}

// asked is one request as its patron knows it.
type asked struct {
	busy     bool // someone is about it
	form     *visit.Form
	token    string
	files    [][]byte
	from     string
	sendings int
	key      string // of the link, once acknowledged
	words    []string
	maybe    []string // messages sent without an answer
	way      string   // agreed to, acknowledged
	maybeWay string
	offered  string // the way offered, as staff did it while the desk was closed
	id       desk.ID
	lines    []string // tokens of account lines acknowledged
	maybes   []string // and those without an answer

	start   *visit.Form // of its run, once filled in
	run     string      // address of the run, once acknowledged
	weigh   *visit.Form
	weighed bool // acknowledged
	seeded  bool // made while the desk was closed, to be agreed to
}

func newLedger() *ledger { return &ledger{forms: map[string]*asked{}} }

func (b *ledger) wrong(format string, args ...any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.broken = append(b.broken, fmt.Sprintf(format, args...))
}

// take finds a request that suits and that nobody is about.
func (b *ledger) take(chance *rand.Rand, suits func(*asked) bool) *asked {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, i := range chance.Perm(len(b.asked)) {
		if q := b.asked[i]; !q.busy && suits(q) {
			q.busy = true
			return q
		}
	}
	return nil
}

func (b *ledger) leave(q *asked) {
	b.mu.Lock()
	defer b.mu.Unlock()
	q.busy = false
}

// next numbers things, so that nothing is the same twice.
func (b *ledger) next() int {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.n++
	return b.n
}

// patron acts as one person after another until the desk is gone.
func (b *ledger) patron(ctx context.Context, at string, chance *rand.Rand) {
	for ctx.Err() == nil {
		var err error
		if q := b.take(chance, func(q *asked) bool { return q.key == "" }); q != nil {
			err = b.send(ctx, at, q) // the answer did not come: the same form once more
			b.leave(q)
		} else if chance.IntN(3) == 0 && b.room() {
			err = b.ask(ctx, at, chance)
		} else if q := b.take(chance, func(q *asked) bool { return q.offered != "" && q.way == "" }); q != nil {
			err = b.agree(ctx, at, q)
			b.leave(q)
		} else if q := b.take(chance, func(q *asked) bool { return q.key != "" }); q != nil && len(q.words) < 3 && chance.IntN(3) == 0 {
			err = b.write(ctx, at, q)
			b.leave(q)
		} else {
			if q != nil {
				err = b.look(ctx, at, q)
				b.leave(q)
			}
			if err == nil && b.room() {
				err = b.ask(ctx, at, chance)
			}
		}
		if err != nil {
			return // the desk is gone
		}
		b.acted()
	}
}

func (b *ledger) acted() {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.acts++
}

// room says whether another request may be made.
func (b *ledger) room() bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	return len(b.asked) < b.most
}

// look opens the page of a request that was acknowledged.
func (b *ledger) look(ctx context.Context, at string, q *asked) error {
	page, err := visit.New(at, q.from).Get(ctx, "/my/"+q.key)
	if err == nil && page.Status != 200 {
		b.wrong("the page of an acknowledged request: %d", page.Status)
	}
	return err
}

// ask fills in a new form and sends it.
func (b *ledger) ask(ctx context.Context, at string, chance *rand.Rand) error {
	n := b.next()
	q := &asked{busy: true, from: fmt.Sprintf("10.%d.%d.%d", n>>16&255, n>>8&255, n&255)}
	v := visit.New(at, q.from)
	page, err := v.Get(ctx, "/ask")
	if err != nil {
		return err
	}
	f, err := page.Form("/ask")
	if err != nil {
		b.wrong("the form for asking: %v (%d)", err, page.Status)
		return nil
	}
	for name, value := range map[string]string{"name": fmt.Sprintf("Patron %d Reed", n), "email": fmt.Sprintf("patron%d@example.org", n),
		"rights": first(f.Choices["rights"]), "accept": first(f.Choices["accept"]), "age": "over"} {
		f.Set(name, value)
	}
	if len(f.Choices["branch"]) > 0 {
		f.Set("branch", f.Choices["branch"][len(f.Choices["branch"])-1])
	}
	q.form, q.token = f, f.Get("form")
	if n == 1 {
		q.files = [][]byte{aSolid(n, 0)} // there are ways to print it, for those that are made like it
	}
	for range 1 + chance.IntN(2) {
		if n > 1 {
			q.files = append(q.files, aModel(n, len(q.files), chance))
		}
	}
	b.mu.Lock()
	b.asked = append(b.asked, q)
	b.forms[q.token] = q
	b.mu.Unlock()
	defer b.leave(q)
	return b.send(ctx, at, q)
}

func first(all []string) string {
	if len(all) == 0 {
		return ""
	}
	return all[0]
}

// aModel is a small solid nobody else sends, or now and then a large file that
// is none.
func aModel(n, i int, chance *rand.Rand) []byte {
	if chance.IntN(4) == 0 {
		var b bytes.Buffer
		size := 200_000 + chance.IntN(6_000_000)
		b.Grow(size)
		noise := rand.NewChaCha8([32]byte{byte(n), byte(n >> 8), byte(n >> 16), byte(i)})
		_, _ = io.CopyN(&b, noise, int64(size))
		return b.Bytes()
	}
	return aSolid(n, i)
}

func aSolid(n, i int) []byte {
	var b bytes.Buffer
	w, d, h := 8+float64(n%97)/10, 8+float64(i), 4+float64(n/97%89)/10
	corner := func(i int) [3]float64 {
		return [3]float64{w * float64(i&1), d * float64(i>>1&1), h * float64(i>>2&1)}
	}
	fmt.Fprintf(&b, "solid block %d\n", n)
	for _, f := range [][3]int{{0, 2, 3}, {0, 3, 1}, {4, 5, 7}, {4, 7, 6}, {0, 1, 5}, {0, 5, 4}, {2, 6, 7}, {2, 7, 3}, {0, 4, 6}, {0, 6, 2}, {1, 3, 7}, {1, 7, 5}} {
		fmt.Fprintln(&b, "facet normal 0 0 0\nouter loop")
		for _, i := range f {
			c := corner(i)
			fmt.Fprintf(&b, "vertex %g %g %g\n", c[0], c[1], c[2])
		}
		fmt.Fprintln(&b, "endloop\nendfacet")
	}
	fmt.Fprintln(&b, "endsolid")
	return b.Bytes()
}

// send sends the form of a request, for the first time or again.
func (b *ledger) send(ctx context.Context, at string, q *asked) error {
	q.sendings++
	var files []visit.File
	for i, data := range q.files {
		files = append(files, visit.File{Field: "files", Name: fmt.Sprintf("part-%d.stl", i), Open: func() io.Reader { return bytes.NewReader(data) }})
	}
	page, err := visit.New(at, q.from).Send(ctx, q.form, files...)
	if err != nil {
		return err
	}
	u, err := url.Parse(page.Path)
	if err != nil || !page.Sent || !strings.HasPrefix(u.Path, "/my/") {
		b.wrong("a form for asking was answered with %d at %s: %s", page.Status, page.Path, brief(page.Text))
		return nil
	}
	q.key = strings.TrimPrefix(u.Path, "/my/")
	return nil
}

func brief(text string) string {
	if i := strings.Index(text, "<main"); i >= 0 {
		text = text[i:]
	}
	return text[:min(len(text), 600)]
}

// write adds a message to a request.
func (b *ledger) write(ctx context.Context, at string, q *asked) error {
	v := visit.New(at, q.from)
	page, err := v.Get(ctx, "/my/"+q.key)
	if err != nil {
		return err
	}
	f, err := page.Form("/write")
	if err != nil {
		b.wrong("an acknowledged request's page: %v (%d)", err, page.Status)
		return nil
	}
	word := fmt.Sprintf("word-%06d", b.next())
	f.Set("text", word)
	q.maybe = append(q.maybe, word)
	if page, err = v.Send(ctx, f); err != nil {
		return err
	}
	if !page.Sent {
		b.wrong("a message was answered with %d: %s", page.Status, brief(page.Text))
		return nil
	}
	q.words = append(q.words, word)
	return nil
}

// agree accepts the way offered.
func (b *ledger) agree(ctx context.Context, at string, q *asked) error {
	v := visit.New(at, q.from)
	page, err := v.Get(ctx, "/my/"+q.key+"/agree?way="+q.offered)
	if err != nil {
		return err
	}
	f, err := page.Form("/agree")
	if err != nil {
		if q.maybeWay != "" { // an agreement whose answer did not come was kept
			q.way = q.maybeWay
			return nil
		}
		b.wrong("the page to agree on: %v (%d)", err, page.Status)
		return nil
	}
	for _, name := range []string{"cautions", "accept", "rights"} {
		if c := f.Choices[name]; len(c) > 0 {
			f.Set(name, c[0])
		}
	}
	q.maybeWay = q.offered
	if page, err = v.Send(ctx, f); err != nil {
		return err
	}
	if !page.Sent {
		b.wrong("an agreement was answered with %d: %s", page.Status, brief(page.Text))
		return nil
	}
	q.way = q.offered
	return nil
}

// cashier corrects accounts and takes payments, each a line with a token of its
// own. The log-in of the first day is good for the next: sessions are kept.
func (b *ledger) cashier(ctx context.Context, at string, chance *rand.Rand) {
	if !b.stands(ctx, at, &b.till) {
		return
	}
	for ctx.Err() == nil {
		q := b.take(chance, func(q *asked) bool { return q.way != "" && len(q.maybes) < 20 })
		if q == nil {
			if _, err := b.till.Get(ctx, "/desk/me"); err != nil {
				return
			}
			continue
		}
		err := b.line(ctx, b.till, q)
		b.leave(q)
		if err != nil {
			return
		}
		b.acted()
	}
}

// stands says whether someone of the staff is logged in, and logs them in if
// they are not yet.
func (b *ledger) stands(ctx context.Context, at string, who **visit.Visitor) bool {
	if *who == nil && b.logIn(ctx, at, who) != nil || *who == nil {
		return false
	}
	(*who).At = at
	return true
}

func (b *ledger) logIn(ctx context.Context, at string, who **visit.Visitor) error {
	v := visit.New(at, "192.0.2.7")
	page, err := v.Get(ctx, "/log-in")
	if err != nil {
		return err
	}
	f, err := page.Form("/log-in")
	if err != nil {
		b.wrong("the log-in: %v", err)
		return err
	}
	f.Set("name", managerName)
	f.Set("password", managerPassword)
	if page, err = v.Send(ctx, f); err != nil {
		return err
	}
	if !page.Sent || strings.HasPrefix(page.Path, "/log-in") {
		b.wrong("the log-in was answered with %d: %s", page.Status, brief(page.Text))
		return nil
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	*who = v
	return nil
}

// line books a line: a payment where something is owed, else a correction that
// makes it so.
func (b *ledger) line(ctx context.Context, v *visit.Visitor, q *asked) error {
	page, err := v.Get(ctx, "/desk/shelf/"+string(q.id)+"/account")
	if err != nil {
		return err
	}
	f, err := page.Form("/account/pay")
	if err == nil {
		f.Set("pay", "0.40")
		f.Set("how", "cash")
	} else if f, err = page.Form("/account/correct"); err == nil {
		f.Set("correction", "0.40")
		f.Set("correction-why", "for the test")
	} else {
		b.wrong("an account: %v (%d)", err, page.Status)
		return nil
	}
	token := f.Get("form")
	q.maybes = append(q.maybes, token)
	if page, err = v.Send(ctx, f); err != nil {
		return err
	}
	if !page.Sent {
		b.wrong("a line of an account was answered with %d: %s", page.Status, brief(page.Text))
		return nil
	}
	q.lines = append(q.lines, token)
	return nil
}

// await waits until something is so.
func (b *ledger) await(so func() bool) {
	for {
		b.mu.Lock()
		ok := so()
		b.mu.Unlock()
		if ok {
			return
		}
		time.Sleep(3 * time.Millisecond)
	}
}

// settle sends everything again that had no answer, and waits until every check
// and every search for ways is done.
func (b *ledger) settle(t *testing.T, at string, h house) {
	t.Helper()
	for _, q := range b.asked {
		if q.key == "" {
			if err := b.send(t.Context(), at, q); err != nil {
				t.Fatal(err)
			}
		}
	}
	driver, source := "sqlite", "file:"+filepath.Join(h.Folder, "platebook.db")+"?mode=ro&_busy_timeout=60000"
	if h.Database != "" {
		driver, source = "pgx", h.Database
	}
	db, err := sql.Open(driver, source)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for len(openJobs(t, db)) > 0 {
		time.Sleep(50 * time.Millisecond)
	}
}

// compare holds what the desk keeps against what people know, and, if more is
// to come, makes requests for it. The program is not running.
func (b *ledger) compare(t *testing.T, h house, more bool) {
	t.Helper()
	for _, w := range b.broken {
		t.Error(w)
	}
	opened(t, h, func(r *rooms) {
		ctx := t.Context()
		jobs := openJobs(t, r.store.DB())
		var kept []desk.Request
		if err := r.store.Read(ctx, func(tx desk.Tx) (err error) {
			kept, err = tx.ListRequests(desk.RequestFilter{})
			if err != nil {
				return err
			}
			there := map[string]bool{}
			for _, k := range kept {
				q := b.forms[k.Form]
				if q == nil || there[k.Form] {
					t.Errorf("request %s is nobody's, or there twice", k.Code)
					continue
				}
				there[k.Form], q.id = true, k.ID
				if err := b.one(ctx, t, r, tx, k, q, jobs); err != nil {
					return err
				}
			}
			for _, q := range b.asked {
				if q.key != "" && !there[q.token] {
					t.Errorf("the request of form %s was acknowledged and is gone", q.token)
				}
			}
			return nil
		}); err != nil {
			t.Fatal(err)
		}
		if more {
			kept = append(kept, b.seed(t, r, kept)...)
		}
		b.offer(t, r, kept)
	})
}

// one holds one request against what its patron knows.
func (b *ledger) one(ctx context.Context, t *testing.T, r *rooms, tx desk.Tx, k desk.Request, q *asked, jobs map[string]int) error {
	files, err := tx.FilesOf(k.ID)
	if err != nil {
		return err
	}
	messages, err := tx.Messages(k.ID)
	if err != nil {
		return err
	}
	events, err := tx.Events(k.ID, 0)
	if err != nil {
		return err
	}
	charges, err := tx.Charges(k.ID)
	if err != nil {
		return err
	}
	if key := r.desk.Key(k); q.key != "" && key != q.key {
		t.Errorf("%s: its link was acknowledged as another", k.Code)
	}
	times := func(what string) (n int) {
		for _, e := range events {
			if e.What == what {
				n++
			}
		}
		return n
	}
	if times("asked") != 1 || len(files) != len(q.files) {
		t.Errorf("%s: asked %d times, %d files of %d", k.Code, times("asked"), len(files), len(q.files))
	}
	for _, data := range q.files {
		sum := sha256.Sum256(data)
		hash := desk.Hash(hex.EncodeToString(sum[:]))
		i := slices.IndexFunc(files, func(f desk.File) bool { return f.Hash == hash })
		if i < 0 {
			t.Errorf("%s: a file is not there", k.Code)
			continue
		}
		if err := sameBytes(ctx, r.desk.Shelves, hash, data); err != nil {
			t.Errorf("%s: %v", k.Code, err)
		}
		f := files[i]
		switch open := jobs["check-file "+string(f.ID)]; f.Check {
		case desk.Waiting, desk.Checking:
			if open != 1 {
				t.Errorf("%s: a file is %s, with %d jobs to check it", k.Code, f.Check, open)
			}
		case desk.Done:
			if f.Result == nil {
				t.Errorf("%s: a file is checked and nothing was found", k.Code)
			} else if f.Result.Sheet != "" {
				if err := readable(ctx, r.desk.Shelves, f.Result.Sheet, f.Result.Still, f.Result.View); err != nil {
					t.Errorf("%s: %v", k.Code, err)
				}
			}
		default:
			t.Errorf("%s: a file is %s: %s", k.Code, f.Check, f.Doing)
		}
	}
	if s := k.Basis.State; (s == desk.Waiting || s == desk.Checking) && jobs["find-ways "+string(k.ID)] != 1 {
		t.Errorf("%s: ways are sought by %d jobs", k.Code, jobs["find-ways "+string(k.ID)])
	}
	count := func(word string) (n int) {
		for _, m := range messages {
			if strings.Contains(m.Text, word) {
				n++
			}
		}
		return n
	}
	for _, w := range q.maybe {
		if n := count(w); n > 1 || n == 0 && slices.Contains(q.words, w) {
			t.Errorf("%s: a message is there %d times", k.Code, n)
		}
	}
	agreed := 0
	if k.Agreement != nil {
		agreed = 1
	}
	if agreed != times("agreed") || (k.State == desk.Agreed || k.State == desk.Printing) != (agreed == 1) || q.way != "" && (agreed == 0 || k.Agreement.Way.ID != q.way) {
		t.Errorf("%s: it is %s, agreed %d times, and agreement to %q was acknowledged", k.Code, k.State, times("agreed"), q.way)
	}
	if err := b.print(t, tx, k, q, charges); err != nil {
		return err
	}
	for _, c := range charges {
		if c.Kind != desk.PriceCharge && !slices.Contains(q.maybes, c.Form) {
			t.Errorf("%s: a line of %s is nobody's", k.Code, c.Amount)
		}
	}
	if n := times("charged"); n != len(charges) {
		t.Errorf("%s: %d lines of account, %d of history", k.Code, len(charges), n)
	}
	for _, form := range q.lines {
		n := 0
		for _, c := range charges {
			if c.Form == form {
				n++
			}
		}
		if n != 1 {
			t.Errorf("%s: a line of the account is there %d times", k.Code, n)
		}
	}
	return nil
}

func sameBytes(ctx context.Context, s desk.Shelves, h desk.Hash, want []byte) error {
	blob, err := s.Open(ctx, h)
	if err != nil {
		return err
	}
	got, err := io.ReadAll(blob)
	if err == nil && !bytes.Equal(got, want) {
		err = fmt.Errorf("%d bytes came back of %d, not the same", len(got), len(want))
	}
	return errors.Join(err, blob.Close())
}

func readable(ctx context.Context, s desk.Shelves, all ...desk.Hash) error {
	for _, h := range all {
		blob, err := s.Open(ctx, h)
		if err != nil {
			return err
		}
		sum := sha256.New()
		_, err = io.Copy(sum, blob)
		if err == nil && hex.EncodeToString(sum.Sum(nil)) != string(h) {
			err = fmt.Errorf("what lies at %s is something else", h)
		}
		if err = errors.Join(err, blob.Close()); err != nil {
			return err
		}
	}
	return nil
}

// offer offers ways for some of the requests that have any, as a reviewer would
// between two starts.
func (b *ledger) offer(t *testing.T, r *rooms, kept []desk.Request) {
	t.Helper()
	ctx := t.Context()
	by := desk.Actor{Kind: desk.ByStaff, ID: desk.NewID(), Name: "Rita", Grants: []desk.Grant{{Role: desk.Manager}}}
	for _, k := range kept {
		q := b.forms[k.Form]
		if k.State != desk.Received || len(k.Ways) == 0 || q == nil || q.key == "" {
			continue
		}
		got, err := r.desk.Take(ctx, by, k.ID, k.Version)
		for _, a := range desk.DefaultRules().Questions {
			if err == nil {
				got, err = r.desk.Judge(ctx, by, k.ID, got.Version, a.ID, true, "")
			}
		}
		if err == nil {
			_, err = r.desk.SendOffer(ctx, by, k.ID, got.Version, desk.OfferForm{Form: string(desk.NewID()), Ways: []string{got.Ways[0].ID}, Best: got.Ways[0].ID})
		}
		if err != nil {
			t.Fatal(err)
		}
		q.offered = got.Ways[0].ID
	}
}

// complete sees that nothing is left unfinished.
func (b *ledger) complete(t *testing.T, h house) {
	t.Helper()
	opened(t, h, func(r *rooms) {
		if jobs := openJobs(t, r.store.DB()); len(jobs) > 0 {
			t.Errorf("left to do: %v", jobs)
		}
		if err := r.store.Read(t.Context(), func(tx desk.Tx) error {
			all, err := tx.ListRequests(desk.RequestFilter{})
			for _, k := range all {
				files, err := tx.FilesOf(k.ID)
				if err != nil {
					return err
				}
				for _, f := range files {
					if f.Check != desk.Done {
						t.Errorf("%s: a file is %s: %s", k.Code, f.Check, f.Doing)
					}
				}
				if k.Basis.State != desk.Done {
					t.Errorf("%s: the search for ways is %s: %s", k.Code, k.Basis.State, k.Basis.Trouble)
				}
			}
			return err
		}); err != nil {
			t.Fatal(err)
		}
	})
}
