package history

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/go-git/go-git/v5/plumbing"
	"github.com/go-git/go-git/v5/plumbing/filemode"
	"github.com/go-git/go-git/v5/plumbing/object"
)

// Unclean is Keeper's: each file is compared with the present commit by its content. The index is not
// asked: what is only staged is not committed.
func (g *Git) Unclean(files []string) ([]Unclean, error) {
	head, err := g.head()
	if err != nil {
		return nil, err
	}
	var root *object.Tree
	if head != nil {
		if root, err = head.Tree(); err != nil {
			return nil, err
		}
	}
	var out []Unclean
	for _, f := range files {
		why, err := g.unclean(root, f)
		if err != nil {
			return nil, fmt.Errorf("comparing %q with git: %w", f, err)
		}
		if why != "" {
			out = append(out, Unclean{f, why})
		}
	}
	slices.SortFunc(out, func(a, b Unclean) int { return strings.Compare(a.Path, b.Path) })
	return out, nil
}

func (g *Git) unclean(root *object.Tree, file string) (why string, err error) {
	if !fs.ValidPath(file) {
		return "it is no path inside the series", nil
	}
	full := filepath.Join(g.top, filepath.FromSlash(g.prefix+file))
	info, err := os.Lstat(full)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return "it is missing", nil
	case err != nil:
		return "", err
	case info.Mode()&fs.ModeSymlink != 0:
		return "it is a symbolic link, put the file itself there", nil
	case !info.Mode().IsRegular():
		return "it is no file", nil
	}
	if root == nil {
		return "it is not committed", nil
	}
	e, err := root.FindEntry(g.prefix + file)
	if err != nil {
		return "it is not committed", nil
	}
	if e.Mode == filemode.Symlink || !e.Mode.IsFile() {
		return "it was a link or a folder when it was committed", nil
	}
	same, err := g.same(e, full, info.Size())
	if err != nil || same {
		return "", err
	}
	return "it was changed since it was committed", nil
}

// same compares a file with a committed content: byte for byte, or up to the line ends that git may have
// changed on the way in, or through a large-file pointer.
func (g *Git) same(e *object.TreeEntry, full string, size int64) (bool, error) {
	f, err := os.Open(full)
	if err != nil {
		return false, err
	}
	defer f.Close()
	hash := plumbing.NewHasher(plumbing.BlobObject, size)
	if _, err := io.Copy(hash, f); err != nil {
		return false, err
	}
	if hash.Sum() == e.Hash {
		return true, nil
	}
	blob, err := g.repo.BlobObject(e.Hash)
	if err != nil {
		return false, err
	}
	const textLimit = 4 << 20 // texts larger than this are none that a person keeps
	if blob.Size > textLimit || size > 1<<32 {
		return false, nil
	}
	r, err := blob.Reader()
	if err != nil {
		return false, err
	}
	defer r.Close()
	kept, err := io.ReadAll(r)
	if err != nil {
		return false, err
	}
	if strings.HasPrefix(string(kept), pointerStart) && len(kept) < 1024 {
		if _, err := f.Seek(0, io.SeekStart); err != nil {
			return false, err
		}
		sum := sha256.New()
		if _, err := io.Copy(sum, f); err != nil {
			return false, err
		}
		return strings.Contains(string(kept), "\noid sha256:"+hex.EncodeToString(sum.Sum(nil))+"\n"), nil
	}
	if size > 2*textLimit {
		return false, nil
	}
	data, err := os.ReadFile(full)
	if err != nil {
		return false, err
	}
	return isText(data) && bytes.Equal(unixLines(data), kept), nil
}

// isText is git's own guess: no NUL in the first 8000 bytes (buffer_is_binary in its xdiff-interface.c,
// from memory).
func isText(data []byte) bool { return !bytes.Contains(data[:min(len(data), 8000)], []byte{0}) }

func unixLines(data []byte) []byte { return bytes.ReplaceAll(data, []byte("\r\n"), []byte("\n")) }
