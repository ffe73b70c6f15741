package main

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"platebook/internal/visit"
)

// sent is one request as its patron sent it.
type sent struct {
	patron, n int
	size      int64
	seed      uint64
	how       manner
	path      string
	form      *visit.Form
	keys      []string // of every answer that took it
	sendings  int
	sum       string // SHA-256 of the file
}

// manner is how a patron sends a form.
type manner int

const (
	plainly manner = iota
	twice          // pressed the button twice
	again          // broke off and tried again
	manners
)

// prepare makes what all patrons will send, on disk: it is not their afternoon
// that is to be timed here, nor the processor it takes to make a model.
func (a *afternoon) prepare(dir string) error {
	for n := range a.o.patrons {
		chance := rand.New(rand.NewPCG(a.o.seed, uint64(n)))
		for i := range a.o.each {
			s := &sent{patron: n, n: i, how: manner(chance.IntN(int(manners))), seed: uint64(n*1000+i) + a.o.seed*1_000_003,
				path: filepath.Join(dir, fmt.Sprintf("ring-%d-%d.stl", n, i))}
			f, err := os.Create(s.path)
			if err != nil {
				return err
			}
			sum := sha256.New()
			r, _ := newTorus(fileSize(chance, a.o.largest), s.seed)
			s.size, err = io.Copy(io.MultiWriter(f, sum), r)
			if err = errors.Join(err, f.Close()); err != nil {
				return err
			}
			s.sum = hex.EncodeToString(sum.Sum(nil))
			a.sent = append(a.sent, s)
		}
	}
	return nil
}

// patron sends requests one after another and looks at each page.
func (a *afternoon) patron(ctx context.Context, n int) {
	for _, s := range a.sent[n*a.o.each : (n+1)*a.o.each] {
		if err := a.one(ctx, s); err != nil {
			a.complain("patron %d, request %d: %v", n, s.n, err)
		}
	}
}

// fileSize draws what patrons send: mostly small, now and then tens of megabytes.
func fileSize(chance *rand.Rand, largestMB int) int64 {
	switch k := chance.IntN(20); {
	case k < 12:
		return 20_000 + chance.Int64N(1_500_000)
	case k < 18:
		return 1_500_000 + chance.Int64N(8_000_000)
	}
	return int64(largestMB)<<19 + chance.Int64N(int64(largestMB)<<19)
}

func (a *afternoon) one(ctx context.Context, s *sent) error {
	v := visit.New(a.at, fmt.Sprintf("10.%d.%d.%d", 1+s.n, s.patron>>8, s.patron&255))
	v.Heard = a.patrons.hear
	page, err := v.Get(ctx, "/ask")
	if err != nil {
		return err
	}
	f, err := page.Form("/ask")
	if err != nil {
		return err
	}
	for name, value := range map[string]string{"name": fmt.Sprintf("Patron %d Reed", s.patron), "email": fmt.Sprintf("patron%d.%d.%d@example.org", a.o.seed, s.patron, s.n),
		"rights": choice(f, "rights"), "accept": choice(f, "accept"), "age": "over", "note": fmt.Sprintf("load %d", s.seed)} {
		f.Set(name, value)
	}
	if b := slices.DeleteFunc(slices.Clone(f.Choices["branch"]), func(b string) bool { return b == "" }); len(b) > 0 {
		f.Set("branch", b[s.patron%len(b)])
	}
	s.form = f
	switch s.how {
	case twice:
		var both sync.WaitGroup
		var errs [2]error
		for i := range errs {
			both.Go(func() { errs[i] = a.send(ctx, v, s) })
		}
		both.Wait()
		err = errors.Join(errs[:]...)
	case again:
		short, cancel := context.WithTimeout(ctx, time.Duration(20+s.seed%300)*time.Millisecond)
		broken := a.send(short, v, s)
		cancel()
		if broken == nil || errors.Is(broken, context.DeadlineExceeded) {
			err = a.send(ctx, v, s)
		} else {
			err = broken
		}
	default:
		err = a.send(ctx, v, s)
	}
	if err != nil {
		return err
	}
	for range 3 {
		if _, err := v.Get(ctx, "/my/"+s.keys[0]); err != nil {
			return err
		}
	}
	return nil
}

func choice(f *visit.Form, name string) string {
	if c := f.Choices[name]; len(c) > 0 {
		return c[0]
	}
	return ""
}

// send sends the form and notes the link it is answered with.
func (a *afternoon) send(ctx context.Context, v *visit.Visitor, s *sent) error {
	data, err := os.Open(s.path)
	if err != nil {
		return err
	}
	defer data.Close()
	file := visit.File{Field: "files", Name: "ring.stl", Open: func() io.Reader { return &paced{r: data, left: a.o.pace, rate: a.o.pace} }}
	a.mu.Lock()
	s.sendings++
	a.mu.Unlock()
	page, err := v.Send(ctx, s.form, file)
	if err != nil {
		return err
	}
	u, err := url.Parse(page.Path)
	if err != nil {
		return err
	}
	key, ok := strings.CutPrefix(u.Path, "/my/")
	if !ok || page.Status != 200 {
		return fmt.Errorf("the form was answered with %d at %s", page.Status, page.Path)
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	s.keys = append(s.keys, key)
	a.bytes += s.size
	return nil
}

// paced reads no faster than a patron's line carries, bytes a second.
type paced struct {
	r          io.Reader
	left, rate int
	until      time.Time
}

func (p *paced) Read(b []byte) (int, error) {
	const ticks = 20 // a second
	if p.rate > 0 {
		if p.left <= 0 {
			time.Sleep(time.Until(p.until))
		}
		if p.left <= 0 || p.until.IsZero() {
			p.left, p.until = p.rate/ticks, time.Now().Add(time.Second/ticks)
		}
		b = b[:min(len(b), p.left)]
	}
	n, err := p.r.Read(b)
	p.left -= n
	return n, err
}

// holds fetches the copy of all that is held of a request, and sees that the
// file sent is in it, once, byte for byte.
func (a *afternoon) holds(ctx context.Context, s *sent) error {
	v := visit.New(a.at, fmt.Sprintf("10.200.%d.%d", s.patron>>8, s.patron&255))
	page, err := v.Get(ctx, "/my/"+s.keys[0]+"/copy")
	if err != nil {
		return err
	}
	if page.Status != 200 {
		return fmt.Errorf("the copy was answered with %d", page.Status)
	}
	z, err := zip.NewReader(bytes.NewReader([]byte(page.Text)), int64(len(page.Text)))
	if err != nil {
		return err
	}
	found := 0
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			return err
		}
		sum := sha256.New()
		_, err = io.Copy(sum, r)
		if err = errors.Join(err, r.Close()); err != nil {
			return err
		}
		if hex.EncodeToString(sum.Sum(nil)) == s.sum {
			found++
		}
	}
	if found != 1 {
		return fmt.Errorf("the file sent is there %d times", found)
	}
	return nil
}
