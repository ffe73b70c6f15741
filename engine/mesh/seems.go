package mesh

import (
	"bytes"
	"strings"

	"platebook/engine/say"
)

// magic are the first bytes of kinds of file that are no model we read (the
// signatures of PNG, JPEG, PDF, GIF, RIFF, gzip, 7z and the like are public; MEMORY).
var magic = []struct {
	first     string
	seems, do say.Form
}{
	{"\x89PNG\r\n\x1a\n", "a PNG picture, not a model", askModel},
	{"\xff\xd8\xff", "a JPEG picture, not a model", askModel},
	{"GIF8", "a GIF picture, not a model", askModel},
	{"BM", "a BMP picture, not a model", askModel},
	{"II*\x00", "a TIFF picture, not a model", askModel},
	{"MM\x00*", "a TIFF picture, not a model", askModel},
	{"RIFF", "a picture, sound or film, not a model", askModel},
	{"%PDF-", "a PDF document, not a model", askModel},
	{"{\\rtf", "a text document (RTF), not a model", askModel},
	{"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "an office document or a drawing program's own file, not a model we read", askExport},
	{"glTF", "a model in the binary glTF (GLB) format, which is made for screens", askExport},
	{"ply\n", "a model or scan in the PLY format", askExport},
	{"ply\r", "a model or scan in the PLY format", askExport},
	{"OFF\n", "a model in the OFF format", askExport},
	{"OFF\r", "a model in the OFF format", askExport},
	{"Kaydara FBX Binary", "a model in the FBX format, which is made for films and games", askExport},
	{"; FBX", "a model in the FBX format, which is made for films and games", askExport},
	{"BLENDER", "a drawing program's own file", askExport},
	{"ISO-10303-21", "a STEP file, a construction drawing without facets", askExport},
	{"AC10", "a DWG drawing", askExport},
	{"\x1f\x8b", "a file packed with gzip", "ask for it unpacked"},
	{"7z\xbc\xaf\x27\x1c", "a 7z archive", "unpack it, or ask for the model file by itself"},
	{"Rar!\x1a\x07", "a RAR archive", "unpack it, or ask for the model file by itself"},
	{"\xfd7zXZ\x00", "a file packed with xz", "ask for it unpacked"},
	{"\x28\xb5\x2f\xfd", "a file packed with Zstandard", "ask for it unpacked"},
	{"BZh", "a file packed with bzip2", "ask for it unpacked"},
	{"MZ", "a Windows program, not a model", "do not open it, and ask for the model as an STL, 3MF or OBJ file"},
	{"\x7fELF", "a program, not a model", "do not open it, and ask for the model as an STL, 3MF or OBJ file"},
	{"SQLite format 3\x00", "a database, not a model", askModel},
}

// known recognises by its first bytes a file that is no model we read.
func known(head []byte) *Unreadable {
	b := skipMark(head)
	for _, m := range magic {
		if len(m.first) < 3 && isText(head) {
			continue // two letters are no proof in a text
		}
		if bytes.HasPrefix(b, []byte(m.first)) {
			return unlike(m.seems, m.do)
		}
	}
	if len(b) > 12 && string(b[4:8]) == "ftyp" {
		return unlike("a film or a picture from a telephone, not a model", askModel)
	}
	if len(b) > 262 && string(b[257:262]) == "ustar" {
		return unlike("a TAR archive", "unpack it, or ask for the model file by itself")
	}
	return nil
}

func isZip(head []byte) bool {
	return bytes.HasPrefix(head, []byte("PK\x03\x04")) || bytes.HasPrefix(head, []byte("PK\x05\x06"))
}

// knownText recognises text that is something other than an ASCII STL or OBJ.
func knownText(text []byte) *Unreadable {
	head := skipMark(text)
	head = bytes.TrimLeft(head[:min(len(head), headLen)], " \t\r\n")
	low := string(bytes.ToLower(head))
	begins := func(s ...string) bool {
		for _, s := range s {
			if strings.HasPrefix(low, s) {
				return true
			}
		}
		return false
	}
	switch {
	case begins("<!doctype html", "<html", "<head", "<body"):
		return unlike("a web page, perhaps saved in place of the model", "ask for the model file itself, downloaded rather than the page about it")
	case begins("<"):
		switch {
		case strings.Contains(low, "<svg"):
			return unlike("an SVG drawing, which is flat", askModel)
		case strings.Contains(low, "<amf"):
			return unlike("a model in the AMF format", askExport)
		case strings.Contains(low, "<collada"):
			return unlike("a model in the COLLADA format", askExport)
		case strings.Contains(low, "<x3d"):
			return unlike("a model in the X3D format", askExport)
		case strings.Contains(low, "/3dmanufacturing/core/"):
			return unlike("the inner part of a 3MF file, taken out of its package", "ask for the whole 3MF file")
		case strings.Contains(low, "<html"):
			return unlike("a web page, perhaps saved in place of the model", "ask for the model file itself, downloaded rather than the page about it")
		}
		return unlike("an XML file, not a model we read", askModel)
	case begins("iso-10303-21"):
		return unlike("a STEP file, a construction drawing without facets", askExport)
	case begins("#vrml"):
		return unlike("a model in the VRML format", askExport)
	case begins("off\n", "off ", "coff", "off\r"):
		return unlike("a model in the OFF format", askExport)
	case begins("{", "[") && strings.Contains(low, `"`):
		if strings.Contains(low, `"asset"`) || strings.Contains(low, `"meshes"`) {
			return unlike("a model in the glTF format, which is made for screens", askExport)
		}
		return unlike("a file of data (JSON), not a model we read", askModel)
	case begins("return-path:", "received:", "from:", "mime-version:"):
		return unlike("a mail message, not a model", askModel)
	case isIGES(skipMark(text)):
		return unlike("an IGES file, a construction drawing without facets", askExport)
	case isMachineText(head):
		return unlike("machine instructions for a printer, made for one machine and not to be trusted on another", askModel)
	case strings.HasPrefix(low, "0\nsection") || strings.HasPrefix(low, "0\r\nsection") || strings.HasPrefix(low, "999\n"):
		return unlike("a DXF drawing", askExport)
	}
	return nil
}

// isIGES: the 73rd column of the first line holds S and its number (IGES 5.3; MEMORY).
func isIGES(text []byte) bool {
	l, _, _ := bytes.Cut(text[:min(len(text), headLen)], []byte("\n"))
	l = bytes.TrimRight(l, "\r")
	return len(l) == 80 && l[72] == 'S' && strings.TrimLeft(string(l[73:]), " 0") == "1"
}

// isMachineText tells whether most lines begin with a letter-and-number word
// such as RS-274 has (NISTIR 6556): G1 X10 Y20.
func isMachineText(head []byte) bool {
	words, lines := 0, 0
	for l := range bytes.Lines(head) {
		l = bytes.TrimSpace(l)
		if len(l) == 0 || l[0] == ';' || l[0] == '(' || l[0] == '%' {
			continue
		}
		lines++
		c := l[0] &^ 0x20
		if len(l) > 1 && (c == 'G' || c == 'M' || c == 'T' || c == 'N') && l[1] >= '0' && l[1] <= '9' {
			words++
		}
	}
	return words >= 3 && words*10 >= lines*7
}
