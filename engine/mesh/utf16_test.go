package mesh

import (
	"encoding/binary"
	"strings"
	"testing"
	"unicode/utf16"
)

// wide writes text as UTF-16, with or without the byte order mark.
func wide(text string, o binary.AppendByteOrder, mark bool) string {
	var b []byte
	if mark {
		b = o.AppendUint16(b, 0xFEFF)
	}
	for _, u := range utf16.Encode([]rune(text)) {
		b = o.AppendUint16(b, u)
	}
	return string(b)
}

// ECMA-376 part 2 lets parts be UTF-8 or UTF-16; XML 1.0 appendix F lists the
// first bytes that tell. A package reads the same in either, byte for byte.
func TestUTF16Parts(t *testing.T) {
	const types = `<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>`
	title := `<metadata name="Title">Café 𝄞 — ложка</metadata><resources>`
	doc := strings.Replace(model(`unit="inch"`, tetra3mf(1, ""), `<item objectid="1"/>`), "<resources>", title, 1)
	long := func(n int) string { // many times the buffers, so that characters fall across their borders
		return strings.Replace(doc, "<vertices>", "<vertices><!--"+strings.Repeat("é𝄞x", n)+"-->", 1)
	}
	said := func(s, label string) string {
		return strings.Replace(s, `encoding="UTF-8"`, label, 1)
	}
	for _, o := range []binary.AppendByteOrder{binary.LittleEndian, binary.BigEndian} {
		for _, c := range []struct {
			name, text string
			mark       bool
		}{
			{"named UTF-16", said(doc, `encoding="UTF-16"`), true},
			{"named utf-16, no mark", said(doc, `encoding="utf-16"`), false},
			{"named UTF-16LE or BE", said(doc, `encoding="UTF-16`+map[bool]string{true: "LE", false: "BE"}[o == binary.LittleEndian]+`"`), false},
			{"not named", said(doc, ""), true},
			{"named UTF-8 and is not", doc, true},
			{"no declaration", doc[strings.Index(doc, "<model"):], true},
			{"long", said(long(20_000), `encoding="UTF-16"`), true},
			{"long by one", said(long(20_001), `encoding="UTF-16"`), true},
		} {
			data := pack(t, "[Content_Types].xml", wide(types, o, c.mark), "_rels/.rels", wide(said(rels("/odd/place.xml"), ""), o, c.mark), "odd/place.xml", wide(c.text, o, c.mark))
			m := read3MF(t, data)
			want := read3MF(t, one(t, doc))
			if m.Name != "Café 𝄞 — ложка" || m.Unit != Inch || len(m.Warnings) != 0 || len(m.Mesh.F) != 4 || signedVolume(m.Mesh) != signedVolume(want.Mesh) {
				t.Errorf("%v, %s: %+v", o, c.name, m)
			}
		}
	}
	// Programs that write UTF-8 and call it UTF-16 are understood too.
	if m := read3MF(t, one(t, said(doc, `encoding="utf-16"`))); m.Name != "Café 𝄞 — ложка" {
		t.Errorf("called UTF-16: %q", m.Name)
	}
}

// The limits hold for what comes out of the archive, whatever it is written in.
func TestUTF16Limits(t *testing.T) {
	const types = `<!DOCTYPE model [<!ENTITY a "b">]>`
	start := `<?xml version="1.0" encoding="UTF-16"?>` + `<model xmlns="` + nsCore + `"><resources>`
	end := `</resources><build/></model>`
	for _, c := range []struct {
		name, text, says string
		lim              Limits
	}{
		{"all blanks", start + strings.Repeat(strings.Repeat(" ", 9996)+"<a/>", 600) + end, "times its size", Limits{}},
		{"longer than taken", start + strings.Repeat(" ", 600) + end, "unpacks to more than the 1 kilobytes", Limits{Expanded: 1024}},
		{"one long name", start + `<a b="` + strings.Repeat("0123456789", 1<<19) + `"/>` + end, "one piece of it is longer", Limits{Ratio: 1 << 20}},
		{"a type definition", types + start, "document type definition", Limits{}},
		{"cut in a character", (start + end)[:60] + "\U0001D11E", "not proper XML", Limits{}},
		{"half of a pair", start + "<object id=\"1\xED\xA0\x80\"/>" + end, "", Limits{}},
	} {
		for _, o := range []binary.AppendByteOrder{binary.LittleEndian, binary.BigEndian} {
			text := wide(c.text, o, true)
			if strings.HasPrefix(c.name, "cut") {
				text = text[:len(text)-3]
			}
			packed := string(one(t, text))
			_, err := Read(strings.NewReader(packed), int64(len(packed)), "part.3mf", c.lim)
			if err == nil || !strings.Contains(err.Error(), c.says) {
				t.Errorf("%s: %v", c.name, err)
				continue
			}
			checkError(t, err)
		}
	}
}
