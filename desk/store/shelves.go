package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"gocloud.dev/blob"
	"gocloud.dev/blob/fileblob"
	_ "gocloud.dev/blob/memblob" // mem://, for tests
	"gocloud.dev/gcerrors"

	"platebook/desk"
)

// shelves keep files' bytes under sha256/ab/abcd…, in a bucket.
type shelves struct {
	s      *Store
	bucket *blob.Bucket
	// local is the folder of a bucket on this machine's disk, or empty.
	local string
	// moving is held while bytes come to their name or leave it, so that a
	// file put again is not taken by the sweep that found it unused.
	moving sync.Mutex
	fresh  freshPuts // within moving
	rename func(from, to string) error
}

// grace is how long bytes are safe from Delete after they were put: the rows
// that will refer to them may be written only once a slow form is all there.
const grace = time.Hour

const (
	keyPrefix = "sha256/"
	tmpPrefix = "coming/"
)

func keyOf(h desk.Hash) string { return keyPrefix + string(h[:2]) + "/" + string(h) }

// checkHash keeps anything but a hash from becoming a path.
func checkHash(h desk.Hash) error {
	if b, err := hex.DecodeString(string(h)); err != nil || len(b) != sha256.Size || strings.ToLower(string(h)) != string(h) {
		return desk.Faultf(desk.NotFound, "There is no such file.")
	}
	return nil
}

// openShelves opens the shelves of a desk.
func openShelves(ctx context.Context, s *Store) (*shelves, error) {
	v, err := openShelvesBeside(ctx, s)
	if err == nil && v.local != "" {
		// What a killed desk left on its way: nothing refers to it.
		err = fault(os.RemoveAll(filepath.Join(v.local, tmpPrefix)))
	}
	return v, err
}

// openShelvesBeside opens shelves that a desk may have open.
func openShelvesBeside(ctx context.Context, s *Store) (*shelves, error) {
	v := &shelves{s: s, rename: moveFile}
	where := s.opts.Files
	if where == "" {
		v.local = filepath.Join(s.opts.Folder, filesFolder)
	} else if u, err := url.Parse(where); err == nil && u.Scheme == fileblob.Scheme {
		v.local = filepath.FromSlash(strings.TrimPrefix(u.Path, map[bool]string{true: "/"}[filepath.Separator == '\\']))
	}
	var err error
	if v.local != "" {
		// Beside a file goes nothing: what it is stands in the rows. A file
		// on its way lies in the same file system, so that it can be renamed.
		v.bucket, err = fileblob.OpenBucket(v.local, &fileblob.Options{CreateDir: true, DirFileMode: 0o700, NoTempDir: true, Metadata: fileblob.MetadataDontWrite})
	} else {
		v.bucket, err = blob.OpenBucket(ctx, where)
	}
	if err != nil {
		return nil, &desk.Fault{Kind: desk.NoRoom, Err: fmt.Errorf("open files: %w", err),
			Say: "The place for patrons' files cannot be opened. See that its address is right and that this account may write there."}
	}
	return v, nil
}

func (v *shelves) close() error { return v.bucket.Close() }

// Put is desk.Shelves'.
func (v *shelves) Put(ctx context.Context, r io.Reader, most int64) (desk.Hash, int64, error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel() // before Close: the bucket drops what was begun
	coming := tmpPrefix + string(desk.NewID())
	w, err := v.bucket.NewWriter(ctx, coming, &blob.WriterOptions{ContentType: "application/octet-stream", DisableContentTypeDetection: true})
	if err != nil {
		return "", 0, fault(err)
	}
	sum := sha256.New()
	n, err := io.Copy(io.MultiWriter(sum, w), io.LimitReader(r, most+1))
	if err == nil && n > most {
		err = desk.Faultf(desk.TooMany, "The file is larger than %d bytes, the most that is taken. Send a smaller one.", most)
	}
	if err != nil {
		cancel()
		w.Close()
		return "", 0, fault(err)
	}
	if err := w.Close(); err != nil {
		return "", 0, errors.Join(fault(err), v.drop(coming))
	}
	h := desk.Hash(hex.EncodeToString(sum.Sum(nil)))
	if err := v.shelve(ctx, coming, h); err != nil {
		return "", 0, errors.Join(fault(err), v.drop(coming))
	}
	return h, n, nil
}

// drop removes what did not get to its name.
func (v *shelves) drop(coming string) error {
	err := v.bucket.Delete(context.Background(), coming)
	if gcerrors.Code(err) == gcerrors.NotFound {
		return nil
	}
	return err
}

// shelve gives bytes that are all there their name. If they had it before, the
// new ones take their place: that makes them young again, and mends a file a
// power cut may have torn.
func (v *shelves) shelve(ctx context.Context, coming string, h desk.Hash) error {
	v.moving.Lock()
	defer v.moving.Unlock()
	had, err := v.bucket.Exists(ctx, keyOf(h))
	if err != nil {
		return err
	}
	if err := v.place(ctx, coming, h); err != nil {
		return err
	}
	v.fresh.put(h, had, v.s.opts.Now())
	return nil
}

// place moves bytes that are all there to their name.
func (v *shelves) place(ctx context.Context, coming string, h desk.Hash) error {
	if v.local != "" {
		return v.shelveLocal(filepath.Join(v.local, filepath.FromSlash(coming)), h)
	}
	if err := v.bucket.Copy(ctx, keyOf(h), coming, nil); err != nil {
		return err
	}
	return v.bucket.Delete(ctx, coming)
}

// shelveLocal syncs a file, dates it by the desk's clock and renames it. The
// library's bucket on a disk does not sync: after a power cut a file whose row
// was kept might be empty.
func (v *shelves) shelveLocal(from string, h desk.Hash) error {
	now := v.s.opts.Now()
	if err := errors.Join(os.Chmod(from, 0o600), os.Chtimes(from, now, now), syncFile(from)); err != nil {
		return err
	}
	to := v.path(h)
	if err := os.Mkdir(filepath.Dir(to), 0o700); err == nil {
		err = syncFolder(filepath.Dir(filepath.Dir(to)))
		if err != nil {
			return err
		}
	} else if !errors.Is(err, os.ErrExist) {
		if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
			return err
		}
		if err := errors.Join(syncFolder(filepath.Dir(filepath.Dir(to))), syncFolder(v.local)); err != nil {
			return err
		}
	}
	err := v.rename(from, to)
	if err != nil && v.whole(to, h) {
		// On Windows a file that somebody reads cannot be replaced. The same
		// bytes lie there, and are young again.
		return errors.Join(os.Chtimes(to, now, now), os.Remove(from))
	}
	return err
}

// whole says whether a file holds the bytes of a hash.
func (v *shelves) whole(path string, h desk.Hash) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	sum := sha256.New()
	_, err = io.Copy(sum, f)
	return err == nil && desk.Hash(hex.EncodeToString(sum.Sum(nil))) == h
}

func (v *shelves) path(h desk.Hash) string {
	return filepath.Join(v.local, filepath.FromSlash(keyOf(h)))
}

// Open is desk.Shelves'.
func (v *shelves) Open(ctx context.Context, h desk.Hash) (desk.Blob, error) {
	if err := checkHash(h); err != nil {
		return nil, err
	}
	if v.local != "" {
		f, err := os.Open(v.path(h))
		if errors.Is(err, os.ErrNotExist) {
			return nil, noFile(err)
		}
		if err != nil {
			return nil, fault(err)
		}
		info, err := f.Stat()
		if err != nil {
			return nil, errors.Join(fault(err), f.Close())
		}
		return localBlob{f, info.Size()}, nil
	}
	a, err := v.bucket.Attributes(ctx, keyOf(h))
	if gcerrors.Code(err) == gcerrors.NotFound {
		return nil, noFile(err)
	}
	if err != nil {
		return nil, fault(err)
	}
	return newFarBlob(ctx, v.bucket, keyOf(h), a.Size), nil
}

func noFile(err error) error {
	return &desk.Fault{Kind: desk.NotFound, Say: "There is no such file. It may have been removed or forgotten meanwhile.", Err: err}
}

// Delete is desk.Shelves'.
func (v *shelves) Delete(ctx context.Context, h desk.Hash) error {
	if err := checkHash(h); err != nil {
		return err
	}
	v.moving.Lock()
	defer v.moving.Unlock()
	a, err := v.bucket.Attributes(ctx, keyOf(h))
	if gcerrors.Code(err) == gcerrors.NotFound {
		return nil
	}
	if err != nil {
		return fault(err)
	}
	if a.ModTime.After(v.s.opts.Now().Add(-grace)) {
		return desk.Faultf(desk.NotNow, "The file was sent within the last hour, so it stays for now. It goes with a later sweep.")
	}
	if err := v.mayGo(ctx, h); err != nil {
		return err
	}
	return v.remove(ctx, h)
}

func (v *shelves) remove(ctx context.Context, h desk.Hash) error {
	if err := v.bucket.Delete(ctx, keyOf(h)); err != nil && gcerrors.Code(err) != gcerrors.NotFound {
		return fault(err)
	}
	return nil
}

// mayGo says whether bytes may be taken away: not those a row refers to, and
// none while a backup runs.
func (v *shelves) mayGo(ctx context.Context, h desk.Hash) error {
	now := v.s.opts.Now()
	return v.s.Read(ctx, func(t desk.Tx) error {
		x := t.(*tx)
		used, err := x.HashUsed(h)
		if err == nil && used {
			err = desk.Faultf(desk.NotNow, "The file is still used by a request, so it stays.")
		}
		if err != nil {
			return err
		}
		held, err := x.held(now)
		if err == nil && held {
			err = desk.Faultf(desk.NotNow, "A backup is running, so no file is taken away now. They go with a later sweep.")
		}
		return err
	})
}

// Old is desk.Shelves'.
func (v *shelves) Old(ctx context.Context, before time.Time, each func(desk.Hash) error) error {
	for i := range 256 {
		list := v.bucket.List(&blob.ListOptions{Prefix: fmt.Sprintf("%s%02x/", keyPrefix, i)})
		for {
			o, err := list.Next(ctx)
			if err == io.EOF {
				break
			}
			if err != nil {
				return fault(err)
			}
			h := desk.Hash(o.Key[strings.LastIndexByte(o.Key, '/')+1:])
			if checkHash(h) != nil || !o.ModTime.Before(before) {
				continue
			}
			if err := each(h); err != nil {
				return err
			}
		}
	}
	return nil
}
