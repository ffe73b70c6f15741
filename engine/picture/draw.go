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
	return write(w, img)
}

func write(w io.Writer, img image.Image) error {
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
	if err := o.complete(1200, 900); err != nil {
		return nil, err
	}
	if err := v.check(); err != nil {
		return nil, err
	}
	if err := s.check(); err != nil {
		return nil, err
	}
	page, err := newPage(s.Caption, s.Marks, o, o.typeSize(118))
	if err != nil {
		return nil, err
	}
	cam := newCamera(v)
	left, right, bottom, top := s.extentGround(&cam)
	f := page.frame
	cam.fit(left, right, bottom, top, float64(f.Min.X*super), float64(f.Min.Y*super), float64(f.Max.X*super), float64(f.Max.Y*super))
	d := expose(&s, &cam, o.Width, o.Height, page.plate, o.Workers)
	img := image.NewNRGBA(image.Rect(0, 0, o.Width, o.Height))
	d.run(img, o.Workers)
	page.draw(img, d)
	return img, nil
}

const super = 2 // samples a pixel, along a side

// extent is the rectangle that part and supports need in the camera's frame, in mm.
func (s *Scene) extent(cam *camera) (left, right, bottom, top float64) {
	left, right, bottom, top = cam.extent(s.Mesh.V)
	if s.Support != nil {
		l, r, b, t := cam.extent(s.Support.V)
		left, right, bottom, top = min(left, l), max(right, r), min(bottom, b), max(top, t)
	}
	return left, right, bottom, top
}

// extentGround is extent with some of the ground around.
func (s *Scene) extentGround(cam *camera) (left, right, bottom, top float64) {
	left, right, bottom, top = s.extent(cam)
	if s.onPlatform(cam) {
		// Room for the ground around the part, as far as there is a platform.
		wide := 0.12 * max(right-left, top-bottom)
		left, right, bottom, top = left-wide, right+wide, bottom-wide, top+wide
	}
	return left, right, bottom, top
}

func (s *Scene) onPlatform(cam *camera) bool { return s.Platform != nil && cam.above() }

// expose finds what is seen through a camera that is in its place, in w × h
// pixels; the ground fills the plate.
func expose(s *Scene, cam *camera, w, h int, at plate, workers int) *shader {
	ps := project(s.Mesh.V, cam, workers)
	buf := render(ps, s.Mesh.F, w*super, h*super, workers)
	d := &shader{
		s: s, cam: cam, b: buf, ps: ps, super: super, w: w, h: h,
		back: newRamp(inside), ramps: ramps(s), plate: at,
		right: narrow(cam.right), up: narrow(cam.up), eye: narrow(cam.eye),
		reach: max(1, (w+h)*super/1800, min((w+h)/300, 2)),
		hatch: max(6*super, (w+h)*super/240),
		fine:  float32(w+h) * super / 700,
	}
	d.light = narrow(cam.right.Scale(-0.48).Add(cam.up.Scale(0.62)).Add(cam.eye.Scale(0.62))).unit()
	var under *shadow
	each(2, workers, func(_, i int) {
		if i == 0 {
			d.vn = vertexNormals(s.Mesh, buf.seenVertices(s.Mesh))
		} else if s.onPlatform(cam) {
			under = castShadow(s.Mesh)
		}
	})
	d.wash, d.nearest = wash(buf, cam, super, w, h, workers)
	if s.onPlatform(cam) {
		d.ground = newPlatform(cam, *s.Platform, under, at, super)
	}
	if s.Support != nil && len(s.Support.F) > 0 {
		d.ghost = newGhost(s.Support, cam, w, h, workers)
	}
	return d
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
