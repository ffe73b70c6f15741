package likeness

import (
	"encoding/base64"
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	"platebook/engine/mesh"
)

// Print is what is remembered of a shape: a version, whether the shape encloses
// a volume, and 106 numbers of 16 bits. It names no file and no part can be made
// from it. Prints are values: equal prints are ==, and a Print may key a map.
// The zero Print is that of nothing and is like nothing.
type Print [2 + 2*nNumbers]byte

// Version is the first byte of every Print made here. Prints of another version
// cannot be compared; take them anew from the files.
const Version = 1

const (
	atReach  = 0
	atSpan   = atReach + nReach
	atWaves  = atSpan + nSpan
	atSolid  = atWaves + nSpheres*nDegrees
	atHand   = atSolid + nSolid
	atSkew   = atHand + nHand
	nNumbers = atSkew + 10

	nSolid = 6 // three half axes, fullness, two of lopsidedness
)

// One step of a number: 1/8192 reaches to ±4 radii of gyration, and hands,
// which lie within ±1/4, have finer ones.
const (
	step     = 1.0 / 8192
	handStep = 1.0 / 131072
)

// ErrPrint is what errors about prints that cannot be read wrap.
var ErrPrint = errors.New("these are not the bytes of a print this version can read; take the print anew from the file")

// Of takes the print of m, best as mesh.Heal leaves it: facets that face the
// wrong way spoil the volume, though nothing else. It fails if m is not Valid
// or has no surface (ErrNoSurface).
//
// The same mesh gives the same Print on every machine and any number of cores.
func Of(m *mesh.Mesh) (Print, error) {
	s, err := surfaceOf(m)
	if err != nil {
		return Print{}, err
	}
	var x [nNumbers]float64
	dots := s.sample(nDots)
	reach, waves := reach(dots), waves(dots)
	span, hand := pairs(dots)
	copy(x[atReach:], reach[:])
	copy(x[atSpan:], span[:])
	copy(x[atWaves:], waves[:])
	copy(x[atHand:], hand[:])
	skew := s.skew()
	copy(x[atSkew:], skew[:])
	sd, encloses := s.solid()
	if encloses {
		length := cubeRoot(sd.volume)
		sure := math.Min(1, sd.volume)
		for i, e := range sd.axes {
			x[atSolid+i] = math.Sqrt(math.Max(e, 0)) * length * sure
		}
		one, three := sd.lopsided()
		x[atSolid+3] = length
		x[atSolid+4] = sure * one * sd.volume
		x[atSolid+5] = sure * three * sd.volume
	}
	return pack(&x, encloses), nil
}

func pack(x *[nNumbers]float64, encloses bool) (p Print) {
	p[0] = Version
	if encloses {
		p[1] = 1
	}
	for i, v := range x {
		v /= stepOf(i)
		if v != v {
			v = 0
		}
		v = math.Max(-math.MaxInt16, math.Min(math.MaxInt16, math.Round(v)))
		binary.LittleEndian.PutUint16(p[2+2*i:], uint16(int16(v)))
	}
	return p
}

func stepOf(i int) float64 {
	if i >= atHand && i < atSkew {
		return handStep
	}
	return step
}

// Known reports whether p is a print this version can compare; the zero Print is not.
func (p Print) Known() bool { return p[0] == Version && p[1] <= 1 }

// encloses reports whether p is of a shape that encloses a volume.
func (p *Print) encloses() bool { return p[1] == 1 }

// number returns the i-th number of p.
func (p *Print) number(i int) float64 {
	return float64(float64(int16(binary.LittleEndian.Uint16(p[2+2*i:]))) * stepOf(i))
}

// MarshalBinary returns the bytes of p.
func (p Print) MarshalBinary() ([]byte, error) { return p[:], nil }

// UnmarshalBinary takes the bytes of a print back; its errors wrap ErrPrint.
func (p *Print) UnmarshalBinary(data []byte) error {
	if len(data) != len(p) {
		return fmt.Errorf("read a print of %d bytes: %w", len(data), ErrPrint)
	}
	if q := Print(data); q.Known() || q == (Print{}) {
		*p = q
		return nil
	}
	return fmt.Errorf("read a print of version %d: %w", data[0], ErrPrint)
}

// MarshalText returns p in the URL-safe base64 of RFC 4648, without padding.
func (p Print) MarshalText() ([]byte, error) {
	return base64.RawURLEncoding.AppendEncode(nil, p[:]), nil
}

// UnmarshalText takes back what MarshalText wrote; its errors wrap ErrPrint.
func (p *Print) UnmarshalText(text []byte) error {
	if len(text) > 2*len(p) {
		return fmt.Errorf("read a print of %d characters: %w", len(text), ErrPrint)
	}
	data, err := base64.RawURLEncoding.Strict().AppendDecode(nil, text)
	if err != nil {
		return fmt.Errorf("read a print: %w", ErrPrint)
	}
	return p.UnmarshalBinary(data)
}
