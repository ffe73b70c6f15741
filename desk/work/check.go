package work

import (
	"bytes"
	"errors"
	"io"

	"platebook/desk"
	"platebook/engine/likeness"
	"platebook/engine/picture"
	"platebook/engine/quote"
)

// mostViewFacets is what a phone turns smoothly; a finer part is drawn together.
const mostViewFacets = 200_000

// check looks at one file as it was sent, against the library's usual printer.
func (c *computing) check() (r result, err error) {
	defer func() { err = errors.Join(err, c.close()) }()
	if len(c.Files) != 1 {
		return r, errors.New("one file is checked at a time")
	}
	a, err := c.base(desk.Plan{})
	if err != nil {
		return r, err
	}
	s, err := c.source(c.Files[0].ID)
	if err != nil {
		return r, err
	}
	a.Sources = []quote.Source{s}
	ans, err := quote.Check(a)
	if err != nil {
		return r, err
	}
	out := &desk.Checked{Answer: *ans}
	r.Checked = out
	if ans.Solid == nil {
		return r, nil
	}
	c.say("drawing it from six sides")
	scene := quote.Scene(&a, ans)
	if out.Sheet, err = c.draw(func(w io.Writer) error { return picture.Sheet(w, scene, picture.Options{Workers: 1}) }); err != nil {
		return r, err
	}
	if out.Still, err = c.draw(func(w io.Writer) error {
		return picture.Draw(w, scene, picture.Usual(), picture.Options{Workers: 1})
	}); err != nil {
		return r, err
	}
	c.say("making the view to turn")
	if out.View, err = c.draw(func(w io.Writer) error { return desk.EncodeView(w, scene, mostViewFacets) }); err != nil {
		return r, err
	}
	c.say("taking the print of its shape")
	switch shape, err := likeness.Of(ans.Solid); {
	case errors.Is(err, likeness.ErrNoSurface):
		return r, nil
	case err != nil:
		return r, err
	default:
		text, err := shape.MarshalText()
		out.Shape = string(text)
		return r, err
	}
}

// draw keeps what a function writes.
func (c *computing) draw(write func(io.Writer) error) (desk.Hash, error) {
	var b bytes.Buffer
	if err := write(&b); err != nil {
		return "", err
	}
	return c.keep(b.Bytes())
}
