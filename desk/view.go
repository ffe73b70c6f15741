package desk

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"

	"platebook/engine/mesh"
	"platebook/engine/picture"
)

// The bytes of a 3D view, all little-endian:
//
//	"DVW1"
//	u8  what follows: 1 up, 2 platform, 4 a support, 8 colours by facet, 16 coarser than the part
//	u8  colours        u16 marks
//	f32×3 up           only with 1
//	f32×2 platform     only with 2: its size in x and y, mm; it lies around x = y = 0 in z = 0
//	u8×3 each          the colours, red green blue
//	a surface: the part, and with 4 another, the support:
//	  u32 vertices     u32 facets
//	  f32×3 least      f32 step      a vertex is at least + step·(x, y, z), mm
//	  u16×3 each       the vertices
//	  u32×3 each       the facets; counter-clockwise from outside
//	  u8 each          colour of each facet, in the part and with 8 only
//	  2 bits each      hatching of each facet (picture.Hatch), four in a byte from
//	                   the lowest bits up; of the part only
//	marks:
//	  f32×3 at         u16 number
//	  u8 severity      0 note, 1 ask, 2 stop
//	  u16 bytes        the label's UTF-8
//
// A step is the part's longest side / 65535, so a vertex is never off by more
// than 3 µm in 400 mm.

const (
	viewUp = 1 << iota
	viewPlatform
	viewSupport
	viewColours
	viewCoarser
)

const (
	viewSteps     = math.MaxUint16
	viewFarthest  = 1e6 // mm, where vertices may be
	viewMostMarks = 500
	viewMostLabel = 500 // bytes
)

// EncodeView writes what the 3D view shows of a scene: the part with its
// hatching, supports, marks, the platform and the file's own up. A surface of
// more than most facets is drawn together until it has fewer.
func EncodeView(w io.Writer, s picture.Scene, most int) error {
	if err := viewable(s, most); err != nil {
		return err
	}
	v := viewWriter{w: bufio.NewWriter(w)}
	part, marks := viewOf(s.Mesh, s.Highlight, most), s.Marks[:min(len(s.Marks), viewMostMarks)]
	var support surface
	has := byte(0)
	if s.Up != nil {
		has |= viewUp
	}
	if s.Platform != nil {
		has |= viewPlatform
	}
	if s.Support != nil && len(s.Support.F) > 0 {
		has |= viewSupport
		support = viewOf(s.Support, nil, most)
	}
	colours := s.Colours[:min(len(s.Colours), 255)]
	if part.colour != nil && len(colours) > 0 {
		has |= viewColours
	}
	if part.coarser || support.coarser {
		has |= viewCoarser
	}
	v.put([]byte("DVW1"), has, uint8(len(colours)), uint16(len(marks)))
	if s.Up != nil {
		v.put(single(*s.Up))
	}
	if s.Platform != nil {
		v.put(float32(s.Platform[0]), float32(s.Platform[1]))
	}
	for _, c := range colours {
		v.put(c.R, c.G, c.B)
	}
	v.surface(part, has&viewColours != 0, true)
	if has&viewSupport != 0 {
		v.surface(support, false, false)
	}
	for _, m := range marks {
		label := short(m.Label, viewMostLabel)
		v.put(single(m.At), uint16(m.Number), severityByte(m.Severity), uint16(len(label)), []byte(label))
	}
	if v.err != nil {
		return fmt.Errorf("write the 3D view: %w", v.err)
	}
	if err := v.w.Flush(); err != nil {
		return fmt.Errorf("write the 3D view: %w", err)
	}
	return nil
}

func severityByte(s string) uint8 {
	switch s {
	case "stop":
		return 2
	case "ask":
		return 1
	}
	return 0
}

// short cuts a text to at most n bytes, not within a letter.
func short(text string, n int) string {
	text = strings.ToValidUTF8(text, "�")
	if len(text) <= n {
		return text
	}
	for n > 0 && !utf8.RuneStart(text[n]) {
		n--
	}
	return text[:n]
}

// viewable says what is wrong with a scene that cannot be shown.
func viewable(s picture.Scene, most int) error {
	if most < 4 {
		return fmt.Errorf("a view of at most %d facets shows nothing", most)
	}
	if s.Mesh == nil || len(s.Mesh.F) == 0 {
		return errors.New("there is nothing to show: the part has no facets")
	}
	for _, m := range []*mesh.Mesh{s.Mesh, s.Support} {
		if m == nil {
			continue
		}
		if len(m.V) > math.MaxInt32 || len(m.F) > math.MaxInt32 {
			return errors.New("the part has too many facets to show")
		}
		for i, p := range m.V {
			if !near(p) {
				return fmt.Errorf("vertex %d is not at a place that can be shown", i)
			}
		}
		for i, f := range m.F {
			if min(f[0], f[1], f[2]) < 0 || int(max(f[0], f[1], f[2])) >= len(m.V) {
				return fmt.Errorf("facet %d points at a vertex that is not there", i)
			}
		}
		if m.Colour != nil && len(m.Colour) != len(m.F) {
			return errors.New("colours and facets differ in number")
		}
	}
	if s.Highlight != nil && len(s.Highlight) != len(s.Mesh.F) {
		return errors.New("hatchings and facets differ in number")
	}
	for _, m := range s.Marks {
		if !near(m.At) || m.Number < 0 || m.Number > math.MaxUint16 {
			return fmt.Errorf("mark %d is not at a place that can be shown", m.Number)
		}
	}
	if s.Up != nil && !near(*s.Up) {
		return errors.New("up in the file is no direction")
	}
	if p := s.Platform; p != nil && !(p[0] > 0 && p[0] <= viewFarthest && p[1] > 0 && p[1] <= viewFarthest) {
		return errors.New("the platform has no size that can be shown")
	}
	return nil
}

func near(p mesh.Vec) bool {
	for _, x := range p {
		if !(math.Abs(x) <= viewFarthest) {
			return false
		}
	}
	return true
}

func single(p mesh.Vec) [3]float32 { return [3]float32{float32(p[0]), float32(p[1]), float32(p[2])} }

type viewWriter struct {
	w   *bufio.Writer
	err error
}

// put writes values; after an error it does nothing.
func (v *viewWriter) put(values ...any) {
	for _, x := range values {
		if v.err != nil {
			return
		}
		v.err = binary.Write(v.w, binary.LittleEndian, x)
	}
}

func (v *viewWriter) surface(s surface, colours, hatching bool) {
	v.put(uint32(len(s.v)), uint32(len(s.f)), s.least, s.step, s.v, s.f)
	if colours {
		v.put(s.colour)
	}
	if hatching {
		packed := make([]byte, (len(s.f)+3)/4)
		for i, h := range s.hatch {
			packed[i/4] |= byte(h&3) << (i % 4 * 2)
		}
		v.put(packed)
	}
}
