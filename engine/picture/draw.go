package picture

import (
	"bufio"
	"fmt"
	"image"
	"image/png"
	"io"
)

// Draw writes a PNG of the scene.
func Draw(w io.Writer, s Scene, v View, o Options) error {
	img, err := Image(s, v, o)
	if err != nil {
		return err
	}
	out := bufio.NewWriter(w)
	e := png.Encoder{CompressionLevel: png.BestSpeed}
	if err := e.Encode(out, img); err != nil {
		return fmt.Errorf("the picture could not be written: %w", err)
	}
	if err := out.Flush(); err != nil {
		return fmt.Errorf("the picture could not be written: %w", err)
	}
	return nil
}

// Image draws the scene. Every pixel is opaque.
func Image(s Scene, v View, o Options) (*image.NRGBA, error) {
	if err := o.complete(); err != nil {
		return nil, err
	}
	if err := v.check(); err != nil {
		return nil, err
	}
	if err := s.check(); err != nil {
		return nil, err
	}
	page, err := newPage(&s, o)
	if err != nil {
		return nil, err
	}
	cam := newCamera(v)
	const super = 2
	w, h := o.Width*super, o.Height*super
	left, right, bottom, top := cam.extent(s.Mesh.V)
	onPlatform := s.Platform != nil && cam.above()
	if onPlatform {
		// Room for the ground around the part, as far as there is a platform.
		wide := 0.12 * max(right-left, top-bottom)
		left, right, bottom, top = left-wide, right+wide, bottom-wide, top+wide
	}
	f := page.frame
	cam.fit(left, right, bottom, top, float64(f.Min.X*super), float64(f.Min.Y*super), float64(f.Max.X*super), float64(f.Max.Y*super))

	ps := project(s.Mesh.V, &cam, o.Workers)
	buf := render(ps, s.Mesh.F, w, h, o.Workers)
	d := &shader{
		s: &s, cam: &cam, b: buf, ps: ps, super: super, w: o.Width, h: o.Height,
		back: newRamp(inside), ramps: ramps(&s), plate: page.plate,
		right: narrow(cam.right), up: narrow(cam.up), eye: narrow(cam.eye),
		reach: max(1, (o.Width+o.Height)*super/1800),
		hatch: max(6*super, (o.Width+o.Height)*super/240),
		fine:  float32(o.Width+o.Height) * super / 700,
	}
	d.light = narrow(cam.right.Scale(-0.48).Add(cam.up.Scale(0.62)).Add(cam.eye.Scale(0.62))).unit()
	var under *shadow
	each(2, o.Workers, func(_, i int) {
		if i == 0 {
			d.vn = vertexNormals(s.Mesh, buf.seenVertices(s.Mesh))
		} else if onPlatform {
			under = castShadow(s.Mesh)
		}
	})
	d.wash, d.nearest = wash(buf, &cam, super, o.Width, o.Height, o.Workers)
	if onPlatform {
		d.ground = newPlatform(&cam, *s.Platform, under, page.plate, super)
	}
	img := image.NewNRGBA(image.Rect(0, 0, o.Width, o.Height))
	d.run(img, o.Workers)
	page.draw(img, d)
	return img, nil
}

// ramps are the colours of every colour part there may be.
func ramps(s *Scene) []*ramp {
	rs := make([]*ramp, 256)
	plain := newRamp(clay)
	for i := range rs {
		rs[i] = plain
		if i < len(s.Colours) {
			rs[i] = newRamp(mute(s.Colours[i]))
		}
	}
	return rs
}
