package mesh

import (
	"bytes"
	"compress/gzip"
	"image"
	"image/color/palette"
	"image/gif"
	"image/jpeg"
	"image/png"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/image/bmp"
	"golang.org/x/image/tiff"
	"platebook/internal/oracle"
)

// What patrons send in place of a model, and what they are told. Pictures are
// made by general encoders; other signatures are those formats' own (MEMORY).
func TestSeems(t *testing.T) {
	written := func(write func(*bytes.Buffer) error) []byte {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	pic := image.NewPaletted(image.Rect(0, 0, 40, 30), palette.Plan9)
	stl := string(binarySTL("part", 4, tetra, ""))
	for _, c := range []struct {
		name string
		data []byte
		says string
	}{
		{"nothing", nil, "an empty file"},
		{"zeros", make([]byte, 5000), "a file of zeros"},
		{"blanks", []byte(" \n\t\r\n "), "a file of blanks"},
		{"PNG", written(func(b *bytes.Buffer) error { return png.Encode(b, pic) }), "a PNG picture"},
		{"JPEG", written(func(b *bytes.Buffer) error { return jpeg.Encode(b, pic, nil) }), "a JPEG picture"},
		{"GIF", written(func(b *bytes.Buffer) error { return gif.Encode(b, pic, nil) }), "a GIF picture"},
		{"BMP", written(func(b *bytes.Buffer) error { return bmp.Encode(b, pic) }), "a BMP picture"},
		{"TIFF", written(func(b *bytes.Buffer) error { return tiff.Encode(b, pic, nil) }), "a TIFF picture"},
		{"gzip", written(func(b *bytes.Buffer) error {
			z := gzip.NewWriter(b)
			z.Write([]byte(stl))
			return z.Close()
		}), "packed with gzip"},
		{"PDF", []byte("%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj"), "a PDF document"},
		{"web page", []byte("\n<!DOCTYPE html>\n<html><title>Key ring</title></html>"), "a web page"},
		{"web page in capitals", []byte("<HTML><BODY>not found</BODY></HTML>"), "a web page"},
		{"letter", []byte("Dear library,\nplease print my model. It is 10 cm tall.\n"), "plain text"},
		{"letter that begins with solid", []byte("solid work by all, thank you\n"), "plain text"},
		{"mail", []byte("Return-Path: <a@example.org>\nSubject: print\n\nhello\n"), "a mail message"},
		{"STEP", []byte("ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\n"), "a STEP file"},
		{"IGES", []byte(strings.Repeat(" ", 72) + "S      1\n" + strings.Repeat(" ", 72) + "G      1\n"), "an IGES file"},
		{"machine instructions", []byte("; made on Monday\nG21\nG90\nM104 S200\nG28\nG1 X10 Y10 Z0.2 F1500\nG1 X20 Y10 E0.5\n"), "machine instructions"},
		{"GLB", []byte("glTF\x02\x00\x00\x00\x00\x01\x00\x00"), "binary glTF"},
		{"glTF", []byte(`{"asset":{"version":"2.0"},"meshes":[]}`), "glTF"},
		{"JSON", []byte(`{"name":"key ring"}`), "data (JSON)"},
		{"PLY", []byte("ply\nformat ascii 1.0\nelement vertex 3\n"), "PLY"},
		{"OFF", []byte("OFF\n8 6 12\n0 0 0\n"), "OFF"},
		{"VRML", []byte("#VRML V2.0 utf8\nShape {}\n"), "VRML"},
		{"SVG", []byte(`<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg"/>`), "an SVG drawing"},
		{"AMF", []byte(`<?xml version="1.0"?><amf unit="inch"/>`), "AMF"},
		{"COLLADA", []byte(`<?xml version="1.0"?><COLLADA/>`), "COLLADA"},
		{"bare 3MF model", []byte(model("", tetra3mf(1, ""), `<item objectid="1"/>`)), "inner part of a 3MF"},
		{"DXF", []byte("0\nSECTION\n2\nHEADER\n"), "a DXF drawing"},
		{"Windows program", []byte("MZ\x90\x00\x03\x00\x00\x00\x04\x00"), "a Windows program"},
		{"empty archive", pack(t), "an empty ZIP archive"},
		{"archive of one", pack(t, "key ring.stl", stl), "one model in it, key ring.stl"},
		{"archive of several", pack(t, "a/lid.stl", stl, "b/box.STL", stl, "c.obj", tetraOBJ, "d.3mf", "", "read me.txt", "x"), "4 models in it (box.STL, c.obj, d.3mf and 1 more)"},
		{"archive of pictures", pack(t, "a.jpg", "", "b.jpg", ""), "no model in it that we read"},
		{"office document", pack(t, "[Content_Types].xml", "<Types/>", "_rels/.rels", rels("/word/document.xml")[:0]+`<Relationships/>`, "word/document.xml", "<a/>"), "an office document"},
		{"OpenDocument", pack(t, "mimetype", "application/vnd.oasis.opendocument.text", "content.xml", "<a/>"), "an office document"},
		{"other package", pack(t, "[Content_Types].xml", "<Types/>", "a.xml", "<a/>"), "a package of documents"},
		{"archive cut short", pack(t, "a.stl", stl)[:100], "cut short or damaged"},
		{"binary taken for text", []byte(strings.ToValidUTF8(stl[:40]+strings.Repeat("\xff\xfe\x00\x00", 40)+stl[40:], "\uFFFD\x00")), "took it for text"},
		{"noise", bytes.Repeat([]byte{0x07, 0x00, 0xe3, 0x9a, 0x41, 0xff, 0x13}, 100), "a kind we do not know"},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, name := range []string{"part.txt", "part.xyz"} {
				m, err := readBytes(c.data, name)
				if err == nil {
					t.Fatalf("read as %s", m.Format)
				}
				checkError(t, err)
				if !strings.Contains(err.Error(), c.says) {
					t.Errorf("%q does not say %q", err, c.says)
				}
			}
			// Whatever it is named, no model comes of it and no panic.
			for _, name := range []string{"part.stl", "part.obj", "part.3mf"} {
				_, err := readBytes(c.data, name)
				if err == nil {
					t.Fatalf("%s was read", name)
				}
				checkError(t, err)
			}
		})
	}
}

// Kinds of file of Debian assimp-testmodels and npm stl-models, by what they seem.
func TestSeemsOutside(t *testing.T) {
	dir := oracle.File(t, "/usr/share/assimp/models")
	for _, c := range []struct{ path, says string }{
		{filepath.Join(dir, "OBJ/SpiderTex.jpg"), "a JPEG picture"},
		{filepath.Join(dir, "PLY/cube.ply"), "PLY"},
		{filepath.Join(dir, "OFF/Cube.off"), "OFF"},
		{filepath.Join(dir, "glTF2/BoxTextured-glTF-Binary/BoxTextured.glb"), "binary glTF"},
		{filepath.Join(dir, "glTF2/BoxTextured-glTF/BoxTextured.gltf"), "glTF"},
		{filepath.Join(dir, "Collada/duck.dae"), "COLLADA"},
		{filepath.Join(dir, "WRL/Wuson.wrl"), "VRML"},
		{oracle.NPM(t, "stl-models/misc/multiWordName.bin.stl"), "took it for text"},
		{oracle.NPM(t, "stl-models/broken/empty.stl"), "an empty file"},
		{oracle.NPM(t, "stl-models/README.md"), "plain text"},
	} {
		_, err := readFile(t, oracle.File(t, c.path))
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want %q", filepath.Base(c.path), err, c.says)
		}
	}
}
