package desk

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Change is one thing that differs between two versions of a document.
type Change struct {
	// Path leads to it: keys of the document, then the names of list entries.
	Path          []string
	Before, After string // empty is nothing; of texts of several lines only the lines that differ
}

// Changes lists what differs between two documents kept as JSON, in the order
// of the newer one. What cannot be read is a change as a whole.
func Changes(before, after []byte) []Change {
	was, is := flat(before), flat(after)
	var all []Change
	for _, p := range is.order {
		if old := was.at[p]; old != is.at[p] {
			all = append(all, change(p, old, is.at[p]))
		}
	}
	for _, p := range was.order {
		if _, still := is.at[p]; !still && was.at[p] != "" {
			all = append(all, change(p, was.at[p], ""))
		}
	}
	return all
}

func change(path, before, after string) Change {
	if strings.Contains(before, "\n") || strings.Contains(after, "\n") {
		before, after = differing(before, after)
	}
	return Change{strings.Split(path, "\x00"), before, after}
}

// flattened is a document as its leaves, by path.
type flattened struct {
	order []string
	at    map[string]string
}

func flat(doc []byte) *flattened {
	f := &flattened{at: map[string]string{}}
	if len(doc) == 0 {
		return f
	}
	d := json.NewDecoder(bytes.NewReader(doc))
	d.UseNumber()
	if err := f.read(d, nil); err != nil {
		return &flattened{[]string{"document"}, map[string]string{"document": string(doc)}}
	}
	return f
}

// read takes one value apart, keeping the order keys stand in.
func (f *flattened) read(d *json.Decoder, path []string) error {
	tok, err := d.Token()
	if err != nil {
		return err
	}
	switch v := tok.(type) {
	case json.Delim:
		if v == '[' {
			var list []json.RawMessage
			for d.More() {
				var raw json.RawMessage
				if err := d.Decode(&raw); err != nil {
					return err
				}
				list = append(list, raw)
			}
			if _, err := d.Token(); err != nil {
				return err
			}
			return f.list(list, path)
		}
		for d.More() {
			key, err := d.Token()
			if err != nil {
				return err
			}
			if err := f.read(d, append(path, fmt.Sprint(key))); err != nil {
				return err
			}
		}
		_, err := d.Token()
		return err
	case nil:
	case bool:
		f.put(path, map[bool]string{true: "yes", false: "no"}[v])
	default:
		f.put(path, fmt.Sprint(v))
	}
	return nil
}

// list takes a list apart: plain values are one leaf; entries that have a name
// are found by it, so that one put in between does not change all after it.
func (f *flattened) list(all []json.RawMessage, path []string) error {
	var plain []string
	for i, raw := range all {
		if raw = bytes.TrimSpace(raw); len(raw) > 0 && (raw[0] == '{' || raw[0] == '[') {
			d := json.NewDecoder(bytes.NewReader(raw))
			d.UseNumber()
			if err := f.read(d, append(slices.Clone(path), entryName(raw, i))); err != nil {
				return err
			}
			continue
		}
		var v any
		if err := json.Unmarshal(raw, &v); err != nil {
			return err
		}
		plain = append(plain, fmt.Sprint(v))
	}
	if len(plain) > 0 {
		sep := ", "
		if slices.ContainsFunc(plain, func(s string) bool { return strings.Contains(s, ",") || len(s) > 40 }) {
			sep = "\n"
		}
		f.put(path, strings.Join(plain, sep))
	}
	return nil
}

func entryName(raw []byte, i int) string {
	var named struct{ ID, Date, Name, Role, Branch string }
	if err := json.Unmarshal(raw, &named); err == nil {
		for _, s := range []string{named.ID, named.Date, named.Name} {
			if s != "" {
				return s
			}
		}
		if named.Role != "" {
			return named.Role + " " + named.Branch
		}
	}
	return strconv.Itoa(i + 1)
}

func (f *flattened) put(path []string, leaf string) {
	p := strings.Join(path, "\x00")
	if _, twice := f.at[p]; !twice {
		f.order = append(f.order, p)
	}
	f.at[p] = leaf
}

// mostLinesApart bounds the work of finding which lines differ.
const mostLinesApart = 1500

// differing picks the lines of two texts that are not in both, by the longest
// common subsequence of lines.
func differing(before, after string) (string, string) {
	a, b := strings.Split(before, "\n"), strings.Split(after, "\n")
	for len(a) > 0 && len(b) > 0 && a[0] == b[0] {
		a, b = a[1:], b[1:]
	}
	for len(a) > 0 && len(b) > 0 && a[len(a)-1] == b[len(b)-1] {
		a, b = a[:len(a)-1], b[:len(b)-1]
	}
	if len(a) > mostLinesApart || len(b) > mostLinesApart {
		return strings.Join(a, "\n"), strings.Join(b, "\n")
	}
	// common[i][j] is the length of the longest common subsequence of a[i:], b[j:].
	common := make([][]uint16, len(a)+1)
	for i := range common {
		common[i] = make([]uint16, len(b)+1)
	}
	for i := len(a) - 1; i >= 0; i-- {
		for j := len(b) - 1; j >= 0; j-- {
			if a[i] == b[j] {
				common[i][j] = common[i+1][j+1] + 1
			} else {
				common[i][j] = max(common[i+1][j], common[i][j+1])
			}
		}
	}
	var gone, come []string
	i, j := 0, 0
	for i < len(a) && j < len(b) {
		switch {
		case a[i] == b[j]:
			i, j = i+1, j+1
		case common[i+1][j] >= common[i][j+1]:
			gone = append(gone, a[i])
			i++
		default:
			come = append(come, b[j])
			j++
		}
	}
	gone, come = append(gone, a[i:]...), append(come, b[j:]...)
	return strings.Join(gone, "\n"), strings.Join(come, "\n")
}
