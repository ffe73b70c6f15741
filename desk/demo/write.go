package demo

import (
	"archive/zip"
	"bufio"
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"path"

	"platebook/engine/mesh"
)

// Write writes the part's file, in the format its name ends in.
func (p Part) Write(w io.Writer) error {
	if p.words != "" {
		_, err := io.WriteString(w, p.words)
		return err
	}
	switch path.Ext(p.File) {
	case ".3mf":
		return p.writePackage(w)
	case ".obj":
		return writeOBJ(w, join(p.Bodies...))
	}
	if p.ascii {
		return writeText(w, join(p.Bodies...))
	}
	return writeBinary(w, join(p.Bodies...))
}

func normal(m *mesh.Mesh, f [3]int32) mesh.Vec {
	n := m.V[f[1]].Sub(m.V[f[0]]).Cross(m.V[f[2]].Sub(m.V[f[0]]))
	if l := n.Len(); l > 0 {
		return n.Scale(1 / l)
	}
	return n
}

func writeBinary(w io.Writer, m *mesh.Mesh) error {
	buf := make([]byte, 84, 84+50*len(m.F))
	copy(buf, "Larkmere Libraries, a demonstration part")
	binary.LittleEndian.PutUint32(buf[80:], uint32(len(m.F)))
	for _, f := range m.F {
		for _, v := range []mesh.Vec{normal(m, f), m.V[f[0]], m.V[f[1]], m.V[f[2]]} {
			for _, x := range v {
				buf = binary.LittleEndian.AppendUint32(buf, math.Float32bits(float32(x)))
			}
		}
		buf = append(buf, 0, 0)
	}
	_, err := w.Write(buf)
	return err
}

func writeText(w io.Writer, m *mesh.Mesh) error {
	b := bufio.NewWriter(w)
	fmt.Fprint(b, "solid Larkmere\r\n")
	for _, f := range m.F {
		n := normal(m, f)
		fmt.Fprintf(b, "facet normal %g %g %g\r\n outer loop\r\n", float32(n[0]), float32(n[1]), float32(n[2]))
		for _, i := range f {
			v := m.V[i]
			fmt.Fprintf(b, "  vertex %g %g %g\r\n", float32(v[0]), float32(v[1]), float32(v[2]))
		}
		fmt.Fprint(b, " endloop\r\nendfacet\r\n")
	}
	fmt.Fprint(b, "endsolid Larkmere\r\n")
	return b.Flush()
}

func writeOBJ(w io.Writer, m *mesh.Mesh) error {
	b := bufio.NewWriter(w)
	fmt.Fprintln(b, "# Larkmere Libraries, a demonstration part\no marker")
	for _, v := range m.V {
		fmt.Fprintf(b, "v %g %g %g\n", v[0], v[1], v[2])
	}
	for _, f := range m.F {
		fmt.Fprintf(b, "f %d %d %d\n", f[0]+1, f[1]+1, f[2]+1)
	}
	return b.Flush()
}

// writePackage writes 3MF core: one object for each colour, in one package.
func (p Part) writePackage(w io.Writer) error {
	var model bytes.Buffer
	model.WriteString(`<?xml version="1.0" encoding="UTF-8"?>
<model unit="millimeter" xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02">
<resources><basematerials id="1">`)
	shades := map[string]string{"Ink": "#2E3A48FF", "Cream": "#EADFC4FF"}
	for _, c := range p.Colours {
		fmt.Fprintf(&model, `<base name="%s" displaycolor="%s"/>`, c, shades[c])
	}
	model.WriteString("</basematerials>\n")
	for i, b := range p.Bodies {
		fmt.Fprintf(&model, `<object id="%d" type="model" pid="1" pindex="%d"><mesh><vertices>`+"\n", i+2, i)
		for _, v := range b.V {
			fmt.Fprintf(&model, `<vertex x="%g" y="%g" z="%g"/>`+"\n", v[0], v[1], v[2])
		}
		model.WriteString("</vertices><triangles>\n")
		for _, f := range b.F {
			fmt.Fprintf(&model, `<triangle v1="%d" v2="%d" v3="%d"/>`+"\n", f[0], f[1], f[2])
		}
		model.WriteString("</triangles></mesh></object>\n")
	}
	model.WriteString("</resources><build>")
	for i := range p.Bodies {
		fmt.Fprintf(&model, `<item objectid="%d"/>`, i+2)
	}
	model.WriteString("</build></model>\n")

	z := zip.NewWriter(w)
	for _, f := range []struct{ name, text string }{
		{"[Content_Types].xml", `<?xml version="1.0" encoding="UTF-8"?>
<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>`},
		{"_rels/.rels", `<?xml version="1.0" encoding="UTF-8"?>
<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Target="/3D/plate.model" Id="rel0" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>`},
		{"3D/plate.model", model.String()},
	} {
		e, err := z.Create(f.name)
		if err != nil {
			return err
		}
		if _, err := io.WriteString(e, f.text); err != nil {
			return err
		}
	}
	return z.Close()
}
