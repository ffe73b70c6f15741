package store

import (
	"context"
	"errors"
	"io"
	"os"
	"sync"

	"gocloud.dev/blob"
)

// localBlob is a file on this machine's disk.
type localBlob struct {
	*os.File
	size int64
}

func (b localBlob) Size() int64 { return b.size }

// farBlob reads a bucket elsewhere a block at a time, with a few blocks kept:
// mesh readers look at the end of a file first and then go through it.
type farBlob struct {
	ctx    context.Context
	bucket *blob.Bucket
	key    string
	size   int64
	at     int64

	mu     sync.Mutex
	blocks []block // most lately used last
	closed bool
}

type block struct {
	begin int64
	bytes []byte
}

const (
	blockSize  = 1 << 20
	mostBlocks = 4
)

func newFarBlob(ctx context.Context, b *blob.Bucket, key string, size int64) *farBlob {
	return &farBlob{ctx: ctx, bucket: b, key: key, size: size}
}

func (b *farBlob) Size() int64 { return b.size }

func (b *farBlob) ReadAt(p []byte, off int64) (n int, err error) {
	if off < 0 {
		return 0, errors.New("read before the beginning of a file")
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.closed {
		return 0, os.ErrClosed
	}
	for n < len(p) {
		if off >= b.size {
			return n, io.EOF
		}
		bytes, err := b.block(off - off%blockSize)
		if err != nil {
			return n, fault(err)
		}
		m := copy(p[n:], bytes[off%blockSize:])
		n, off = n+m, off+int64(m)
	}
	return n, nil
}

// block returns the block that begins at begin, from those kept or the bucket.
func (b *farBlob) block(begin int64) ([]byte, error) {
	for i, k := range b.blocks {
		if k.begin == begin {
			b.blocks = append(append(b.blocks[:i:i], b.blocks[i+1:]...), k)
			return k.bytes, nil
		}
	}
	r, err := b.bucket.NewRangeReader(b.ctx, b.key, begin, min(blockSize, b.size-begin), nil)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	bytes := make([]byte, min(blockSize, b.size-begin))
	if _, err := io.ReadFull(r, bytes); err != nil {
		return nil, err
	}
	if len(b.blocks) == mostBlocks {
		b.blocks = b.blocks[1:]
	}
	b.blocks = append(b.blocks, block{begin, bytes})
	return bytes, nil
}

func (b *farBlob) Read(p []byte) (int, error) {
	if len(p) == 0 {
		return 0, nil
	}
	n, err := b.ReadAt(p, b.at)
	b.at += int64(n)
	if n > 0 && err == io.EOF {
		err = nil
	}
	return n, err
}

func (b *farBlob) Seek(offset int64, whence int) (int64, error) {
	switch whence {
	case io.SeekCurrent:
		offset += b.at
	case io.SeekEnd:
		offset += b.size
	}
	if offset < 0 {
		return 0, errors.New("seek before the beginning of a file")
	}
	b.at = offset
	return offset, nil
}

func (b *farBlob) Close() error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.blocks, b.closed = nil, true
	return nil
}
