package picture

import (
	"image"
	"math"
	"strconv"
)

// barLengths are the lengths a scale bar may have, mm.
var barLengths = []float64{1e-6, 1e-5, 1e-4, 0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 1e4, 1e5, 1e6, 1e7, 1e8}

// scaleRow draws, below the picture, a bar that is true along every direction
// across the sight, and at the right what the hatchings that are seen mean.
func (p *page) scaleRow(d *shader) {
	pen := p.pen
	long := barLengths[0]
	for _, b := range barLengths {
		if b*p.key.perMM <= 0.16*p.w {
			long = b
		}
	}
	w := long * p.key.perMM
	x, y, half := p.margin, p.foot+pen.size*0.75, max(pen.size*0.14, 1)
	mid := x + math.Round(w/2)
	pen.slab((x+mid)/2, y, (mid-x)/2, half, 0, ink)
	pen.slab((mid+x+w)/2, y, (x+w-mid)/2, half, 0, ink)
	pen.slab((mid+x+w)/2, y, (x+w-mid)/2-1, half-1, 0, sheet)
	from := x + w + pen.size*0.6
	words := strconv.FormatFloat(long, 'f', -1, 64) + " mm"
	if p.key.grid > 0 {
		words += ", squares of " + strconv.FormatFloat(p.key.grid, 'f', -1, 64) + " mm"
	}
	words = cut(pen.regular, words, p.w-p.margin-from)
	pen.text(pen.regular, words, from, y+pen.size*0.34, faint)
	p.keys(d, from+width(pen.regular, words)+pen.size)
}

var hatchWords = [hatches]string{Overhang: "overhanging", Thin: "thin", Other: "see the findings"}

// keys explains from the right as much as there is room for, down to x = from.
func (p *page) keys(d *shader, from float64) {
	pen := p.pen
	x, y := p.w-p.margin, p.foot+pen.size*0.75
	one := func(word string, sign func(x float64)) {
		w := width(pen.regular, word)
		if x-w-2.2*pen.size < from {
			return
		}
		x -= w
		pen.text(pen.regular, word, x, y+pen.size*0.34, faint)
		x -= 2.2 * pen.size
		sign(x)
		x -= 1.2 * pen.size
	}
	swatch := func(base, line rgb, amount func(x, y int) int) func(float64) {
		return func(x float64) {
			swatch(pen, base, line, x, y-pen.size*0.55, pen.size*1.7, pen.size*1.1, amount)
		}
	}
	if p.key.up {
		one("up in the file", func(x float64) {
			pen.arrow(x+pen.size*0.85, y+pen.size*0.6, 0, -pen.size*1.2, 0, ink)
		})
	}
	if p.key.ghost {
		one("supports", swatch(sheet, petrol, func(x, y int) int {
			if d.upright(x) {
				return veilLine
			}
			return 2 * veilTint
		}))
	}
	for h := hatches - 1; h > Plain; h-- {
		if p.key.hatched[h] {
			one(hatchWords[h], swatch(clay, ink, func(x, y int) int { return d.hatching(h, x, y) }))
		}
	}
}

// swatch fills a rectangle with a colour and hatches it.
func swatch(pen *pen, base, line rgb, x, y, w, hgt float64, amount func(x, y int) int) {
	pen.slab(x+w/2, y+hgt/2, w/2, hgt/2, 0, ink)
	b := image.Rect(int(x)+1, int(y)+1, int(x+w)-1, int(y+hgt)-1).Intersect(pen.img.Rect)
	const n = super * super
	for py := b.Min.Y; py < b.Max.Y; py++ {
		for px := b.Min.X; px < b.Max.X; px++ {
			a := 0
			for k := range n {
				a += amount(px*super+k%super, py*super+k/super)
			}
			c := mix(base, line, a/n)
			copy(pen.img.Pix[pen.img.PixOffset(px, py):], c[:])
		}
	}
}

// arrow shows in a corner of a plate where the file's own up is: the lower right
// one, unless the part is there and another is free; if none is, it is left out.
// x0, y0 is where the view begins on the page.
func (p *page) arrow(d *shader, a plate, x0, y0 float64) {
	if d.s.Up == nil {
		return
	}
	size := p.pen.size
	up := d.s.Up.Scale(1 / d.s.Up.Len())
	in := size * 2.2
	x, y, free := a.x1-in, a.y1-in, false
	for _, c := range [3][2]float64{{x, y}, {a.x0 + in, y}, {x, a.y0 + in + size*1.5}} {
		if free = d.free(c[0]-x0, c[1]-y0, size*1.4); free {
			x, y = c[0], c[1]
			break
		}
	}
	if !free {
		return
	}
	p.key.up = true
	sx, sy, toward := up.Dot(d.cam.right), -up.Dot(d.cam.up), up.Dot(d.cam.eye)
	if hypot(sx, sy) > 0.2 {
		long := size * 2.6
		x, y, sx, sy = x-float64(sx*long/2), y-float64(sy*long/2), float64(sx*long), float64(sy*long)
		p.pen.arrow(x, y, sx, sy, p.pen.size*0.35, sheet)
		p.pen.arrow(x, y, sx, sy, 0, ink)
		return
	}
	// Along the sight: the point of the arrow, or its feathers.
	r, w := size*0.6, max(size/11, 1)
	p.pen.disc(x, y, r+2.5*w, sheet)
	p.pen.disc(x, y, r+w, ink)
	p.pen.disc(x, y, r, sheet)
	if toward > 0 {
		p.pen.disc(x, y, r*0.36, ink)
		return
	}
	k := r * math.Sqrt2 / 2
	p.pen.line(x-k, y-k, x+k, y+k, w, 0, ink, 1)
	p.pen.line(x-k, y+k, x+k, y-k, w, 0, ink, 1)
}

// free reports whether there is nothing of part or supports in a square of
// pixels around a place of the view.
func (d *shader) free(x, y, half float64) bool {
	for j := max(int(y-half), 0); j < min(int(y+half), d.h); j++ {
		for i := max(int(x-half), 0); i < min(int(x+half), d.w); i++ {
			if d.nearest[j*d.w+i] > float32(math.Inf(-1)) || d.ghost != nil && d.ghost.near[j*d.w+i] {
				return false
			}
		}
	}
	return true
}

// arrow draws an arrow from x, y over dx, dy, its lines stouter by more.
func (p *pen) arrow(x, y, dx, dy, more float64, c rgb) {
	long := hypot(dx, dy)
	if !(long > 0) {
		return
	}
	w := max(p.size/9, 1.2) + more
	ux, uy := dx/long, dy/long
	head := min(p.size*0.55, long*0.6)
	ex, ey := x+dx, y+dy
	p.line(x, y, ex-float64(ux*head*0.5), ey-float64(uy*head*0.5), w, 0, c, 1)
	for _, s := range [2]float64{-0.5, 0.5} {
		bx, by := ex-float64(ux*head)-float64(uy*head*s), ey-float64(uy*head)+float64(ux*head*s)
		p.line(bx, by, ex, ey, w, 0, c, 1)
	}
}
