package release

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"

	"dropwright/series/disk"
	"dropwright/series/target"
)

// StoreName is the folder below a series' folder in which bundles are kept by their hash.
const StoreName = "store"

// Store keeps the bytes of bundles by their SHA-256, so that the public day sends what was checked at the
// early drop. It can be lost: then bundles are made again from the tags.
type Store struct {
	disk   disk.FS
	folder string
}

// OpenStore is the store in a folder, which is made when something is put into it.
func OpenStore(d disk.FS, folder string) *Store { return &Store{d, folder} }

func (s *Store) path(sum string) string { return filepath.Join(s.folder, sum[:2], sum) }

// Put stores what write writes and returns its hash and size when it is durable. The same bytes again are
// stored once.
func (s *Store) Put(ctx context.Context, write func(io.Writer) error) (sum string, bytes int64, err error) {
	if err := s.Ready(); err != nil {
		return "", 0, err
	}
	hash, count := sha256.New(), &counter{}
	temp, err := disk.WriteTemp(s.disk, s.folder, func(w io.Writer) error {
		if err := write(io.MultiWriter(w, hash, count)); err != nil {
			return err
		}
		return ctx.Err()
	})
	if err != nil {
		return "", 0, fmt.Errorf("writing to the store %q: %w", s.folder, err)
	}
	sum, bytes = hex.EncodeToString(hash.Sum(nil)), count.n
	folder := filepath.Dir(s.path(sum))
	err = disk.MkdirAll(s.disk, folder)
	if err == nil {
		// Whatever bears that name, whole or damaged, is replaced by what was just made.
		err = s.disk.Rename(temp, s.path(sum))
	}
	if err != nil {
		s.disk.Remove(temp)
	} else if err = s.disk.SyncDir(folder); err != nil {
		s.disk.Remove(s.path(sum)) // made anew by the next run
	} else {
		err = s.disk.SyncDir(s.folder)
	}
	if err != nil {
		return "", 0, fmt.Errorf("writing to the store %q: %w", s.folder, err)
	}
	return sum, bytes, nil
}

// Ready makes the store's folder.
func (s *Store) Ready() error {
	if err := disk.MkdirAll(s.disk, s.folder); err != nil {
		return fmt.Errorf("making the store %q: %w", s.folder, err)
	}
	if err := s.hide(); err != nil {
		return fmt.Errorf("the store %q: %w", s.folder, err)
	}
	return nil
}

// hide keeps the store out of git: bundles are made from the series, not part of it.
func (s *Store) hide() error {
	name := filepath.Join(s.folder, ".gitignore")
	if _, err := s.disk.Lstat(name); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return disk.Replace(s.disk, name, []byte("# bundles as they went out; dropwright makes them again from the tags if need be\n*\n"))
}

// Content gives an object's bytes, checked against their hash. A missing or damaged one is a [*Lost].
func (s *Store) Content(ctx context.Context, name, sum string, bytes int64) (target.Content, error) {
	c := target.Content{Bytes: bytes, SHA256: sum, Open: func() (io.ReadCloser, error) { return s.disk.OpenFile(s.path(sum), 0, 0) }}
	if len(sum) != sha256.Size*2 {
		return c, fmt.Errorf("%q is no SHA-256 of %q", sum, name)
	}
	if _, err := s.disk.Lstat(s.path(sum)); errors.Is(err, fs.ErrNotExist) {
		return c, &Lost{name, sum}
	} else if err != nil {
		return c, err
	}
	err := c.Copy(ctx, io.Discard)
	var changed *target.Changed
	if errors.As(err, &changed) {
		return c, &Lost{name, sum}
	}
	return c, err
}

// Sweep removes what interrupted runs left.
func (s *Store) Sweep() error { return disk.Sweep(s.disk, s.folder) }

type counter struct{ n int64 }

func (c *counter) Write(p []byte) (int, error) {
	c.n += int64(len(p))
	return len(p), nil
}
