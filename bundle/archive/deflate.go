package archive

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"sync"
)

const (
	// blockSize is how much content is deflated by itself, in bytes. Blocks start without what came
	// before, so they can be made on any core in any order, and where they are cut depends on the
	// content's length alone. Measured on binary STL of 21 MB: 1 MiB blocks cost 0.6 % of size, 4 MiB
	// 0.15 %.
	blockSize = 2 << 20
	// level is the effort of deflate. Measured in MB per second of processor time and size against
	// gzip -6 on the demo's meshes: level 4 94 and +4.2 %, 5 65 and +1.9 %, 6 44 and +1.2 %; gzip
	// itself 40. BenchmarkAgainstZip has the whole.
	level = 5
)

var encoders = sync.Pool{New: func() any {
	w, err := flate.NewWriter(io.Discard, level)
	if err != nil {
		panic(err) // only for a level out of range
	}
	return w
}}

// deflate compresses one block. All but the last block of a file end with a sync marker, an empty
// stored block that brings the stream to a whole byte (RFC 1951 3.2.4), so that blocks can follow
// each other as one stream.
func deflate(data []byte, last bool) []byte {
	var b bytes.Buffer
	b.Grow(len(data)/2 + 64)
	w := encoders.Get().(*flate.Writer)
	defer encoders.Put(w)
	w.Reset(&b)
	w.Write(data) // a bytes.Buffer does not fail
	if last {
		w.Close()
	} else {
		w.Flush()
	}
	return b.Bytes()
}

// packLarge deflates a file block by block on all cores. The header, which holds the packed size,
// comes first in a zip; so the blocks wait in memory, and if there are more than heldMax of them
// the file is deflated twice: once to know the size, once to write.
func (p *pool) packLarge(zw *zip.Writer, it *item, top string, st stamp) error {
	done := packed{method: zip.Deflate}
	held := true
	err := p.blocks(it, func(c []byte) error {
		done.size += int64(len(c))
		if held = held && done.size <= heldMax; held {
			done.chunks = append(done.chunks, c)
		} else {
			done.chunks = nil
		}
		return nil
	})
	switch {
	case err != nil:
		return err
	case !worthwhile(it.size, done.size):
		return copyLarge(p.ctx, zw, it, top, st)
	case held:
		return writeChunks(zw, it, top, st, done)
	}
	w, err := zw.CreateRaw(header(it, top, st, zip.Deflate, done.size))
	if err != nil {
		return err
	}
	again := int64(0)
	err = p.blocks(it, func(c []byte) error {
		again += int64(len(c))
		_, err := w.Write(c)
		return err
	})
	if err == nil && again != done.size {
		err = &ChangedError{it.Path} // blocks of the same content are the same
	}
	return err
}

// blocks reads a file once, has its blocks deflated and gives them to use in order. It checks that
// the file is still the one that was hashed.
func (p *pool) blocks(it *item, use func([]byte) error) error {
	r, err := it.open()
	if err != nil {
		return fmt.Errorf("pack %q: %w", it.Path, err)
	}
	defer r.Close()
	sha := sha256.New()
	var queue []chan []byte
	for left := it.size; left > 0 || len(queue) > 0; {
		if left > 0 && len(queue) < p.workers+2 {
			if err := p.ctx.Err(); err != nil {
				return err
			}
			data := make([]byte, min(left, blockSize))
			if _, err := io.ReadFull(r, data); err == io.EOF || err == io.ErrUnexpectedEOF {
				return &ChangedError{it.Path}
			} else if err != nil {
				return fmt.Errorf("pack %q: %w", it.Path, err)
			}
			sha.Write(data)
			left -= int64(len(data))
			last, done := left == 0, make(chan []byte, 1)
			queue = append(queue, done)
			p.tasks <- func() { done <- deflate(data, last) }
			continue
		}
		c := <-queue[0]
		queue = queue[1:]
		if err := use(c); err != nil {
			return err
		}
	}
	return it.ended(r, sha.Sum(nil))
}

// copyLarge writes a file as it is, without holding it.
func copyLarge(ctx context.Context, zw *zip.Writer, it *item, top string, st stamp) error {
	w, err := zw.CreateRaw(header(it, top, st, zip.Store, it.size))
	if err != nil {
		return err
	}
	r, err := it.open()
	if err != nil {
		return fmt.Errorf("pack %q: %w", it.Path, err)
	}
	defer r.Close()
	sha := sha256.New()
	buf := make([]byte, 256<<10)
	for left := it.size; left > 0; {
		if err := ctx.Err(); err != nil {
			return err
		}
		n, err := r.Read(buf[:min(left, int64(len(buf)))])
		sha.Write(buf[:n])
		if _, err := w.Write(buf[:n]); err != nil {
			return err
		}
		left -= int64(n)
		switch {
		case errors.Is(err, io.EOF) && left > 0:
			return &ChangedError{it.Path}
		case err != nil && !errors.Is(err, io.EOF):
			return fmt.Errorf("pack %q: %w", it.Path, err)
		}
	}
	return it.ended(r, sha.Sum(nil))
}

// ended checks, after as many bytes as were hashed, that they were the same and that no more follow.
func (it *item) ended(r io.Reader, sum []byte) error {
	var one [1]byte
	if n, _ := io.ReadFull(r, one[:]); n > 0 || Hash(sum) != it.sum {
		return &ChangedError{it.Path}
	}
	return nil
}
