package picture

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// pen draws on the finished pixels: text, lines and the shapes of tags. Edges
// are softened by their distance from a pixel's centre.
type pen struct {
	img           *image.NRGBA
	regular, bold font.Face
	small         font.Face // bold, for the numbers of tags
	size          float64   // of the type, pixels to the em
}

func newPen(size float64) (*pen, error) {
	p := &pen{size: size}
	for _, f := range []struct {
		to   *font.Face
		ttf  []byte
		size float64
	}{{&p.regular, goregular.TTF, size}, {&p.bold, gobold.TTF, size}, {&p.small, gobold.TTF, size * 0.86}} {
		parsed, err := opentype.Parse(f.ttf)
		if err == nil {
			*f.to, err = opentype.NewFace(parsed, &opentype.FaceOptions{Size: f.size, DPI: 72, Hinting: font.HintingNone})
		}
		if err != nil {
			return nil, fmt.Errorf("the type for the picture could not be set: %w", err)
		}
	}
	return p, nil
}

// lead is the height of a line of text; two tags fit one above the other.
func (p *pen) lead() float64 { return math.Round(p.size * 1.58) }

func width(f font.Face, s string) float64 { return float64(font.MeasureString(f, s)) / 64 }

// text writes s with its baseline starting at x, y.
func (p *pen) text(f font.Face, s string, x, y float64, c rgb) {
	d := font.Drawer{
		Dst: p.img, Src: image.NewUniform(color.NRGBA{c[0], c[1], c[2], 255}), Face: f,
		Dot: fixed.Point26_6{X: fixed.Int26_6(math.Round(x * 64)), Y: fixed.Int26_6(math.Round(y * 64))},
	}
	d.DrawString(s)
}

// mostText is how many bytes of a text are looked at: more than a page holds.
const mostText = 600

// clean makes one line of printable text out of whatever a file said.
func clean(s string) string {
	if n := mostText; len(s) > n {
		for n > 0 && !utf8.RuneStart(s[n]) {
			n--
		}
		s = s[:n]
	}
	s = strings.Map(func(r rune) rune {
		switch {
		case r == '\t' || r == '\n' || r == '\r':
			return ' '
		case r < ' ' || r == 0x7f || (r >= 0x80 && r < 0xa0) || (r >= 0x200b && r <= 0x200f) || (r >= 0x202a && r <= 0x202e) || (r >= 0x2060 && r <= 0x206f):
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "�"))
	return strings.Join(strings.Fields(s), " ")
}

// wrap breaks s into lines no wider than w; what does not go into most lines
// is cut with an ellipsis.
func wrap(f font.Face, s string, w float64, most int) []string {
	var lines []string
	words := strings.Fields(clean(s))
	for i, word := range words {
		words[i] = shorten(f, word, w)
	}
	for i := 0; i < len(words); {
		line := words[i]
		i++
		if len(lines) == most-1 {
			line = strings.Join(append([]string{line}, words[i:]...), " ")
			i = len(words)
		}
		for i < len(words) && width(f, line+" "+words[i]) <= w {
			line += " " + words[i]
			i++
		}
		lines = append(lines, cut(f, line, w))
	}
	return lines
}

// cut shortens s to fit w, with an ellipsis.
func cut(f font.Face, s string, w float64) string {
	if width(f, s) <= w {
		return s
	}
	r := []rune(s)
	low, high := 0, len(r)
	for low < high { // the longest start that fits
		if k := (low + high + 1) / 2; width(f, string(r[:k])+"…") <= w {
			low = k
		} else {
			high = k - 1
		}
	}
	return strings.TrimRight(string(r[:low]), " ") + "…"
}

// shorten takes out the middle of a name too wide for w: its beginning and its
// end tell files apart.
func shorten(f font.Face, s string, w float64) string {
	if width(f, s) <= w {
		return s
	}
	r := []rune(s)
	some := func(n int) string { // n runes of s
		tail := r[len(r)-n*2/5:]
		for len(tail) > 0 && unicode.Is(unicode.M, tail[0]) {
			tail = tail[1:] // an accent whose letter is gone
		}
		return strings.TrimRight(string(r[:n-n*2/5]), " ") + "…" + strings.TrimLeft(string(tail), " ")
	}
	low, high := 0, len(r)-1
	for low < high {
		if k := (low + high + 1) / 2; width(f, some(k)) <= w {
			low = k
		} else {
			high = k - 1
		}
	}
	return some(low)
}

// cover lays c over every pixel of the box by how much of it the shape covers:
// distance is from the shape's edge, negative inside, in pixels.
func (p *pen) cover(x0, y0, x1, y1 float64, c rgb, alpha float64, distance func(x, y float64) float64) {
	b := image.Rect(int(math.Floor(x0))-1, int(math.Floor(y0))-1, int(math.Ceil(x1))+1, int(math.Ceil(y1))+1).Intersect(p.img.Rect)
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			p.dab(x, y, c, alpha, distance(float64(x)+0.5, float64(y)+0.5))
		}
	}
}

// dab lays c over a pixel whose middle is d outside the edge of a shape.
func (p *pen) dab(x, y int, c rgb, alpha, d float64) {
	a := min(max(0.5-d, 0), 1) * alpha
	if a == 0 {
		return
	}
	at := p.img.PixOffset(x, y)
	here := rgb{p.img.Pix[at], p.img.Pix[at+1], p.img.Pix[at+2]}
	here = mix(here, c, int(math.Round(a*256)))
	copy(p.img.Pix[at:], here[:])
}

func hypot(x, y float64) float64 { return math.Sqrt(float64(x*x) + float64(y*y)) }

// line draws a line of the given width; dash > 0 breaks it.
func (p *pen) line(x0, y0, x1, y1, w, dash float64, c rgb, alpha float64) {
	dx, dy := x1-x0, y1-y0
	long := hypot(dx, dy)
	if !(long > 0) {
		return
	}
	dx, dy = dx/long, dy/long
	r := w / 2
	distance := func(x, y float64) float64 {
		t := min(max(float64((x-x0)*dx)+float64((y-y0)*dy), 0), long)
		if dash > 0 && math.Mod(t, 2*dash) > dash {
			return 1
		}
		return hypot(x-x0-float64(t*dx), y-y0-float64(t*dy)) - r
	}
	// Row by row, only the pixels the line can touch there.
	b := image.Rect(int(min(x0, x1)-r)-1, int(min(y0, y1)-r)-1, int(max(x0, x1)+r)+2, int(max(y0, y1)+r)+2).Intersect(p.img.Rect)
	for y := b.Min.Y; y < b.Max.Y; y++ {
		from, to := b.Min.X, b.Max.X
		if math.Abs(dy) > 0.02 {
			mid := x0 + float64((float64(y)+0.5-y0)*dx/dy)
			reach := (r + 1) / math.Abs(dy)
			from, to = max(from, int(mid-reach)-1), min(to, int(mid+reach)+2)
		}
		for x := from; x < to; x++ {
			p.dab(x, y, c, alpha, distance(float64(x)+0.5, float64(y)+0.5))
		}
	}
}

func (p *pen) disc(x, y, r float64, c rgb) {
	p.cover(x-r, y-r, x+r, y+r, c, 1, func(px, py float64) float64 { return hypot(px-x, py-y) - r })
}

// slab is a rectangle around x, y with corners rounded by round.
func (p *pen) slab(x, y, halfW, halfH, round float64, c rgb) {
	p.cover(x-halfW, y-halfH, x+halfW, y+halfH, c, 1, func(px, py float64) float64 {
		dx, dy := math.Abs(px-x)-halfW+round, math.Abs(py-y)-halfH+round
		return hypot(max(dx, 0), max(dy, 0)) + min(max(dx, dy), 0) - round
	})
}
