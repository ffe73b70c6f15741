package picture

import "image/color"

// The palette is paper, ink and clay, with three accents for marks. Every
// accent reads on paper and on the lit part, and stays apart from the others
// and from the part for eyes that lack one kind of cone; palette_test.go holds
// it to that. Severity is never in the colour alone: tags differ in shape too.

type rgb [3]uint8

var (
	paper    = rgb{0xf6, 0xf1, 0xe6} // the sheet
	sheet    = rgb{0xfb, 0xf8, 0xf0} // the platform, and tags
	ink      = rgb{0x2a, 0x26, 0x24} // lines and text
	faint    = rgb{0x67, 0x60, 0x58} // small print
	clay     = rgb{0xc9, 0xb0, 0x98} // the part
	inside   = rgb{0x8a, 0x7a, 0x6e} // the back of its facets, where it is open
	shade    = rgb{0x4a, 0x3e, 0x3a} // what shadows tend to
	glow     = rgb{0xff, 0xfb, 0xf2} // what light tends to
	sanguine = rgb{0xa0, 0x2f, 0x14} // stop
	indigo   = rgb{0x2b, 0x3a, 0x8f} // ask
	petrol   = rgb{0x14, 0x7a, 0x6c} // supports
	inkBrown = rgb{0x2a, 0x26, 0x24} // note
)

// accent is the colour of marks of a severity.
func accent(severity string) rgb {
	switch severity {
	case "stop":
		return sanguine
	case "ask":
		return indigo
	}
	return inkBrown
}

// mix goes from a to b by t/256, t in 0..256.
func mix(a, b rgb, t int) rgb {
	t = min(max(t, 0), 256)
	var c rgb
	for i := range c {
		c[i] = uint8((int(a[i])*(256-t) + int(b[i])*t + 128) >> 8)
	}
	return c
}

// mute brings a colour part's own colour towards the clay, and away from black
// and white, so that shading and ink still show on it.
func mute(c color.NRGBA) rgb {
	if c.A == 0 {
		return clay
	}
	m := mix(rgb{c.R, c.G, c.B}, clay, 56)
	for i := range m {
		m[i] = uint8(58 + int(m[i])*(232-58)/255)
	}
	return m
}

// ramp holds the colours of one material from deep shadow to full light.
type ramp [256]rgb

func newRamp(base rgb) *ramp {
	dark, lit := mix(base, shade, 178), mix(base, glow, 116)
	var r ramp
	const middle = 150
	for t := range r {
		if t < middle {
			r[t] = mix(dark, base, t*256/middle)
		} else {
			r[t] = mix(base, lit, (t-middle)*256/(255-middle))
		}
	}
	return &r
}
