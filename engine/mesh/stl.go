package mesh

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"runtime"
	"strings"
	"sync"

	"platebook/engine/say"
)

// Binary STL: an 80-byte header, a little-endian uint32 count n, then n records
// of 50 bytes (normal, three vertices, each of three float32; a uint16 the
// format leaves undefined). So a file is 84 + 50n bytes long, and that, not its
// first word, tells it from text.
//
// The records are read in chunks. Workers decode a chunk each and weld it
// within itself; the caller's goroutine takes the chunks in order and welds
// their vertices, five times fewer than corners, into one list. Since both
// welds number vertices by first appearance, the mesh does not depend on the
// number of workers.
const (
	stlHead   = 84
	stlRecord = 50
	stlChunk  = 4096 // records; a chunk and its table fit a core's own cache
)

func stlLen(n uint32) int64 { return stlHead + stlRecord*int64(n) }

func stlCount(head []byte) (uint32, bool) {
	if len(head) < stlHead {
		return 0, false
	}
	return binary.LittleEndian.Uint32(head[80:]), true
}

// binarySTL reads n records; odd is a warning to pass on, if not empty.
func (f *file) binarySTL(head []byte, n uint32, odd say.Saying) (*Model, error) {
	const seems say.Form = "a binary STL"
	if int64(n) > int64(f.lim.Facets) {
		return nil, unreadable(seems, askSmall, "its %d facets are more than the %d taken here", n, f.lim.Facets)
	}
	m := &Model{Name: headerName(head[:80]), Format: BinarySTL, Facets: int(n)}
	if !odd.Empty() {
		m.warn(odd)
	}
	mesh, notes, err := f.records(int(n))
	if err != nil {
		var u *Unreadable
		if errors.As(err, &u) {
			return nil, u
		}
		return nil, say.Errorf("the file could not be read to its end: %w", err)
	}
	if notes.normals > 0 {
		m.warn(noNormal(notes.normals))
	}
	if notes.attributes > 0 {
		m.warn(say.Counted(notes.attributes,
			"%s facet has extra data, a colour perhaps, to which the STL format gives no meaning; it is not used.",
			"%s facets have extra data, a colour perhaps, to which the STL format gives no meaning; it is not used."))
	}
	return f.finish(m, mesh, "")
}

func noNormal(n int) say.Saying {
	return say.Counted(n, "%s facet has no usable normal; the order of its corners decides which side is out.",
		"%s facets have no usable normal; the order of its corners decides which side is out.")
}

// stlNotes counts what is odd in records and harmless.
type stlNotes struct{ normals, attributes int }

// stlPiece is a chunk decoded and welded within itself.
type stlPiece struct {
	w     *welder
	f     [][3]int32
	alone bool // corners are left for the whole file's welder to share
	notes stlNotes
	err   error
}

func (f *file) records(n int) (*Mesh, stlNotes, error) {
	chunks := (n + stlChunk - 1) / stlChunk
	workers := min(runtime.GOMAXPROCS(0), 8, chunks)
	seed := newSeed()
	stop := make(chan struct{})
	var running sync.WaitGroup
	defer func() {
		close(stop)
		running.Wait()
	}()
	out := make([]chan *stlPiece, workers)
	for k := range out {
		out[k] = make(chan *stlPiece)
		running.Go(func() {
			// Two pieces in turn: while one is merged the other is filled.
			// Sending the second waits until the first has been merged.
			raw := make([]byte, stlChunk*stlRecord)
			var turn [2]*stlPiece
			scattered := false // the facets of a chunk hardly share corners
			for c := k; c < chunks; c += workers {
				p := turn[0]
				if p == nil {
					p = &stlPiece{w: newWelder(3*min(stlChunk, n), seed)}
					p.w.keep = true
				}
				turn[0], turn[1] = turn[1], p
				p.alone = scattered && c/workers%8 != 0
				p.decode(f.src, raw, c*stlChunk, min(stlChunk, n-c*stlChunk))
				if !p.alone {
					scattered = len(p.w.v) > 2*len(p.f)
				}
				select {
				case out[k] <- p:
				case <-stop:
					return
				}
			}
		})
	}
	w := newWelder(n/2+n/16+8, seed)
	m := &Mesh{F: make([][3]int32, 0, n)}
	var notes stlNotes
	to := make([]int32, 0, 3*stlChunk)
	for c := range chunks {
		p := <-out[c%workers]
		if p.err != nil {
			return nil, notes, p.err
		}
		notes.normals += p.notes.normals
		notes.attributes += p.notes.attributes
		to = w.indices(p.w.v, p.w.hash, to[:0])
		if len(w.v) > f.lim.Vertices {
			return nil, notes, f.loose("a binary STL")
		}
		for _, t := range p.f {
			m.F = append(m.F, [3]int32{to[t[0]], to[t[1]], to[t[2]]})
		}
	}
	m.V = w.v
	return m, notes, nil
}

// loose refuses a model whose facets hang together too little.
func (f *file) loose(seems say.Form) error {
	return unreadable(seems, askSmall, "its facets have more than the %d different corners taken here", f.lim.Vertices)
}

// decode reads n records from the first on.
func (p *stlPiece) decode(src io.ReaderAt, raw []byte, first, n int) {
	p.w.reset()
	p.f, p.notes, p.err = p.f[:0], stlNotes{}, nil
	raw = raw[:n*stlRecord]
	if k, err := src.ReadAt(raw, stlHead+stlRecord*int64(first)); k < len(raw) {
		p.err = orEOF(err)
		return
	}
	for ; len(raw) >= stlRecord; raw = raw[stlRecord:] {
		r := raw[:stlRecord:stlRecord]
		if bad(word(r, 0)) || bad(word(r, 4)) || bad(word(r, 8)) {
			p.notes.normals++
		}
		if r[48]|r[49] != 0 {
			p.notes.attributes++
		}
		if p.alone {
			k := int32(len(p.w.v))
			p.w.add(corner(r, 12))
			p.w.add(corner(r, 24))
			p.w.add(corner(r, 36))
			p.f = append(p.f, [3]int32{k, k + 1, k + 2})
			continue
		}
		p.f = append(p.f, [3]int32{
			p.w.index(corner(r, 12)),
			p.w.index(corner(r, 24)),
			p.w.index(corner(r, 36)),
		})
	}
}

func word(r []byte, at int) uint32 { return binary.LittleEndian.Uint32(r[at:]) }

func corner(r []byte, at int) Vec {
	return Vec{
		float64(math.Float32frombits(word(r, at))),
		float64(math.Float32frombits(word(r, at+4))),
		float64(math.Float32frombits(word(r, at+8))),
	}
}

// bad tells whether the bits are a float32 that is no number or infinite.
func bad(b uint32) bool { return b&0x7F800000 == 0x7F800000 }

// headerName is what a binary header says, without the word solid.
func headerName(h []byte) string {
	if i := bytes.IndexByte(h, 0); i >= 0 {
		h = h[:i]
	}
	for _, c := range h {
		if c < ' ' && c != '\t' && c != '\n' && c != '\r' {
			return "" // not meant for reading
		}
	}
	s := cleanName(h)
	if len(s) >= 5 && strings.EqualFold(s[:5], "solid") {
		s = strings.TrimSpace(s[5:])
	}
	return s
}

// oddBinary reads a file that is no text and of no kind we know, if it is a
// binary STL whose length is not what its count says.
func (f *file) oddBinary(head []byte) (*Model, error) {
	const short, resend say.Form = "a binary STL cut short", "it may have been cut off on its way, so ask for it to be sent again"
	n, ok := stlCount(head)
	held := max(0, (f.size-stlHead)/stlRecord)
	stray := max(0, (f.size-stlHead)%stlRecord)
	stl := f.ext == ".stl"
	switch {
	case len(bytes.Trim(head, "\x00")) == 0:
		return nil, unlike("a file of zeros, with no model in it", resend)
	case bytes.Count(head, []byte("\xEF\xBF\xBD")) > 3:
		// Each byte that is no character was replaced by U+FFFD.
		return nil, unreadable("a file that was changed by a program which took it for text",
			"ask for it to be sent again, in a ZIP archive perhaps", "what it was cannot be won back")
	case !ok && stl:
		return nil, unreadable(short, resend, "it ends before its first facet")
	case !ok:
		return nil, unlike("a file of a kind we do not know, not a model", askModel)
	case stl && n == 0 && held == 0:
		return nil, unreadable("a binary STL", askAgain, "it holds no facets, so there is nothing to print")
	case stl && held == 0:
		return nil, unreadable(short, resend, "it promises %s and ends within the first", facets(int(n)))
	case (n == 0 || n == math.MaxUint32) && stray == 0 && held > 0 && f.likeRecords(head, held):
		// Programs that write as they go may never come back to fill in the count.
		return f.binarySTL(head, uint32(held), say.Of("The file's count of facets was never filled in; all %d it holds were read.", held))
	case !f.likeRecords(head, min(int64(n), held)):
		if stl {
			return nil, unlike("a damaged binary STL, or a file of some other kind named .stl", askAgain)
		}
		return nil, unlike("a file of a kind we do not know, not a model", askModel)
	case int64(n) > held:
		return nil, unreadable(short, resend, "it promises %s and holds only %d", facets(int(n)), held)
	case held > int64(n) && stray == 0 && held <= math.MaxInt32 && f.moreRecords(int64(n), held):
		return f.binarySTL(head, uint32(held), say.Of("The file says it has %s but holds %d; all were read.", facets(int(n)), held))
	}
	return f.binarySTL(head, n, say.Counted(int(f.size-stlLen(n)), "After the last facet follows 1 byte that belongs to no facet; left out.",
		"After the last facet follow %d bytes that belong to no facet; left out."))
}

func facets(n int) say.Saying { return say.Counted(n, "%s facet", "%s facets") }

// wholeSTL tells whether a file named .stl holds all the facets it promises,
// and believable ones, however its header begins.
func (f *file) wholeSTL(head []byte) bool {
	n, ok := stlCount(head)
	return f.ext == ".stl" && ok && n > 0 && stlLen(n) <= f.size && f.likeRecords(head, int64(n))
}

// likeRecords tells whether the first records, as far as head shows them, are
// believable: numbers that a drawing may hold.
func (f *file) likeRecords(head []byte, n int64) bool {
	body := head[min(len(head), stlHead):]
	seen := 0
	for ; n > 0 && len(body) >= stlRecord; n, body = n-1, body[stlRecord:] {
		if !believable(body[:stlRecord]) {
			return false
		}
		seen++
	}
	return seen > 0
}

// moreRecords tells whether the records from first on are believable and not
// all zero, as padding would be.
func (f *file) moreRecords(first, held int64) bool {
	raw := make([]byte, min(held-first, 64)*stlRecord)
	if k, _ := f.src.ReadAt(raw, stlHead+stlRecord*first); k < len(raw) {
		return false
	}
	if len(bytes.Trim(raw, "\x00")) == 0 {
		return false
	}
	for ; len(raw) >= stlRecord; raw = raw[stlRecord:] {
		if !believable(raw[:stlRecord]) {
			return false
		}
	}
	return true
}

// believable tells whether a record's corners are zero or of a size drawings
// have; bytes that mean something else rarely pass.
func believable(r []byte) bool {
	for at := 12; at < 48; at += 4 {
		x := math.Abs(float64(math.Float32frombits(word(r, at))))
		if !(x <= farthest) || x != 0 && x < 1e-30 {
			return false
		}
	}
	return true
}
