package picture

import (
	"image"
	"io"
	"math"
)

// directions are the six of a sheet, each above its opposite: what stands in a
// column has the same outline, mirrored.
var directions = [6]struct {
	name string
	view View
}{
	{"Front", View{}}, {"Right", View{Azimuth: 90}}, {"From above", View{Elevation: 90}},
	{"Back", View{Azimuth: 180}}, {"Left", View{Azimuth: -90}}, {"From beneath", View{Elevation: -90}},
}

// Sheet writes a PNG of a contact sheet: the scene from the front, right and
// above, and from the back, left and beneath, all at one scale, so that what
// the part is can be judged without turning it. A mark is shown in the views it
// is seen from. The size is 1600 by 1100 unless the options say otherwise.
func Sheet(w io.Writer, s Scene, o Options) error {
	img, err := sheetImage(s, o)
	if err != nil {
		return err
	}
	return write(w, img)
}

func sheetImage(s Scene, o Options) (*image.NRGBA, error) {
	img, _, err := sheetCells(s, o)
	return img, err
}

func sheetCells(s Scene, o Options) (*image.NRGBA, []*cell, error) {
	if err := o.complete(1600, 1100); err != nil {
		return nil, nil, err
	}
	if err := s.check(); err != nil {
		return nil, nil, err
	}
	p, err := newPage(s.Caption, s.Marks, o, o.typeSize(150))
	if err != nil {
		return nil, nil, err
	}
	bare := s
	bare.Caption = nil
	cells := make([]*cell, len(directions))
	for i, d := range directions {
		cells[i] = &cell{s: &bare, cam: newCamera(d.view), title: d.name}
	}
	scale := sheetLayout(p, cells)
	return p.several(cells, scale, o), cells, nil
}

// sheetLayout gives the cells their places in two rows of three and returns the
// scale, in samples a mm. Columns are as wide as what stands in them asks for,
// within reason.
func sheetLayout(p *page, cells []*cell) (scale float64) {
	size := p.pen.size
	gap := math.Round(size * 0.5)
	a := p.plate
	high := math.Floor((a.y1 - a.y0 - gap) / 2)
	inset, head := size*0.9, size*2.1
	if high < 6*size {
		inset, head = 2, 2
		for _, c := range cells {
			c.title = ""
		}
	}
	total := a.x1 - a.x0 - 2*gap
	var wide [3]float64
	sum, tall := 0.0, 0.0
	for i, c := range cells {
		w, h := c.need()
		tall = max(tall, h)
		wide[i%3] = max(wide[i%3], w)
	}
	for i := range wide {
		sum += wide[i]
	}
	// If height decides, the columns share what is over; if width does, each
	// gets its share, but never so little that its title does not fit.
	fits := (high - head - inset) / tall
	free := total - float64(sum*fits) - 6*inset
	least := total * 0.24
	for i := range wide {
		if free >= 0 {
			wide[i] = float64(wide[i]*fits) + 2*inset + free/3
		} else {
			wide[i] = 2*inset + float64((total-6*inset)*(wide[i]/sum))
		}
	}
	lend(wide[:], least)
	scale = math.Inf(1)
	x := a.x0
	for k := range wide {
		x1 := math.Round(x + wide[k])
		if k == 2 {
			x1 = a.x1
		}
		for row := range 2 {
			c := cells[3*row+k]
			y := math.Round(a.y0 + float64(row)*(high+gap))
			c.plate = plate{math.Round(x), y, x1, y + high}
			c.frame = plate{c.plate.x0 + inset, y + head, x1 - inset, y + high - inset}
			w, h := c.need()
			scale = min(scale, (c.frame.x1-c.frame.x0)*super/w, (c.frame.y1-c.frame.y0)*super/h)
			l, r, b, t := c.cam.extent(c.s.Mesh.V)
			c.note = across(r-l, t-b)
		}
		x = x1 + gap
	}
	return max(scale, 1e-12)
}

// lend raises what is below least at the cost of the others, by their surplus.
func lend(wide []float64, least float64) {
	lack, surplus := 0.0, 0.0
	for _, w := range wide {
		lack += max(least-w, 0)
		surplus += max(w-least, 0)
	}
	for i, w := range wide {
		if w < least {
			wide[i] = least
		} else if surplus > 0 {
			wide[i] -= float64(lack * ((w - least) / surplus))
		}
	}
}

// several draws the cells and what the page says about all of them.
func (p *page) several(cells []*cell, scale float64, o Options) *image.NRGBA {
	img := image.NewNRGBA(image.Rect(0, 0, o.Width, o.Height))
	whiten(img)
	var last *shader
	for _, t := range p.tags {
		t.unseen = true
	}
	for _, c := range cells {
		last = c.draw(p, img, scale, o.Workers)
		for _, seen := range c.shown {
			for _, t := range p.tags {
				if t.number == seen.number && t.severity == seen.severity {
					t.unseen = false
				}
			}
		}
		c.s = nil
	}
	p.heading(img)
	if !math.IsInf(p.foot, 1) {
		p.scaleRow(last)
		p.drawLegend()
	}
	return img
}

// whiten makes all of a picture paper.
func whiten(img *image.NRGBA) {
	for i := 0; i < len(img.Pix); i += 4 {
		img.Pix[i], img.Pix[i+1], img.Pix[i+2], img.Pix[i+3] = paper[0], paper[1], paper[2], 255
	}
}
