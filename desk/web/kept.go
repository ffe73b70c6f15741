package web

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"strings"

	"platebook/desk"
)

// A form that could not be taken comes back with the files it brought named in
// hidden fields, so that they need not be sent again. Each names bytes on the
// shelves by their hash; the seal says that this form brought them, as else
// anyone who knows a hash could have a stranger's file printed.

// keptFile is what the field says.
type keptFile struct {
	Name string    `json:"n"`
	Hash desk.Hash `json:"h"`
	Size int64     `json:"s"`
}

func (s *Site) seal(form, text string) []byte {
	mac := hmac.New(sha256.New, s.desk.Secret)
	mac.Write([]byte("file kept with a form\x00" + form + "\x00" + text))
	return mac.Sum(nil)
}

// keep makes the field's value for a file.
func (s *Site) keep(form string, u desk.Upload) string {
	text, err := json.Marshal(keptFile{u.Name, u.Hash, u.Size})
	if err != nil {
		return "" // of three plain values it cannot be
	}
	b := base64.RawURLEncoding
	return b.EncodeToString(text) + "." + b.EncodeToString(s.seal(form, string(text)))
}

// kept reads the field's values; what was not sealed for this form is left out.
func (s *Site) kept(form string, values []string) []desk.Upload {
	var all []desk.Upload
	for _, v := range values[:min(len(values), 50)] {
		left, right, ok := strings.Cut(v, ".")
		text, err1 := base64.RawURLEncoding.DecodeString(left)
		mac, err2 := base64.RawURLEncoding.DecodeString(right)
		if !ok || err1 != nil || err2 != nil || !hmac.Equal(mac, s.seal(form, string(text))) {
			continue
		}
		var f keptFile
		if json.Unmarshal(text, &f) != nil {
			continue
		}
		all = append(all, desk.Upload{Name: f.Name, Hash: f.Hash, Size: f.Size})
	}
	return all
}
