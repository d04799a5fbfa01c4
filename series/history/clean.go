package history

import (
	"bytes"
	"crypto/sha1"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"

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
	// The repository is asked for one file after another, the contents of several are compared at a time: a
	// season has hundreds of meshes.
	var out []Unclean
	var lock sync.Mutex
	var failed error
	say := func(f, why string, err error) {
		lock.Lock()
		defer lock.Unlock()
		if err != nil && failed == nil {
			failed = fmt.Errorf("comparing %q with git: %w", f, err)
		}
		if why != "" {
			out = append(out, Unclean{f, why})
		}
	}
	type comparison struct {
		file, full string
		entry      *object.TreeEntry
		size       int64
	}
	next := make(chan comparison)
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(files)) {
		wg.Go(func() {
			for c := range next {
				same, err := g.same(c.entry, c.full, c.size, &lock)
				why := ""
				if err == nil && !same {
					why = "it was changed since it was committed"
				}
				say(c.file, why, err)
			}
		})
	}
	for _, f := range files {
		lock.Lock() // the tree and the repository remember what they have read
		full, entry, size, why, err := g.unclean(root, f)
		lock.Unlock()
		if err != nil || why != "" {
			say(f, why, err)
			continue
		}
		next <- comparison{f, full, entry, size}
	}
	close(next)
	wg.Wait()
	if failed != nil {
		return nil, failed
	}
	slices.SortFunc(out, func(a, b Unclean) int { return strings.Compare(a.Path, b.Path) })
	return out, nil
}

// unclean finds what a file is to be compared with, or says why that cannot be done.
func (g *Git) unclean(root *object.Tree, file string) (full string, entry *object.TreeEntry, size int64, why string, err error) {
	no := func(why string, err error) (string, *object.TreeEntry, int64, string, error) {
		return "", nil, 0, why, err
	}
	if !fs.ValidPath(file) {
		return no("it is no path inside the series", nil)
	}
	full = filepath.Join(g.top, filepath.FromSlash(g.prefix+file))
	info, err := os.Lstat(full)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return no("it is missing", nil)
	case err != nil:
		return no("", err)
	case info.Mode()&fs.ModeSymlink != 0:
		return no("it is a symbolic link, put the file itself there", nil)
	case !info.Mode().IsRegular():
		return no("it is no file", nil)
	}
	if root == nil {
		return no("it is not committed", nil)
	}
	e, err := root.FindEntry(g.prefix + file)
	if err != nil {
		return no("it is not committed", nil)
	}
	if e.Mode == filemode.Symlink || !e.Mode.IsFile() {
		return no("it was a link or a folder when it was committed", nil)
	}
	return full, e, info.Size(), "", nil
}

// same compares a file with a committed content: byte for byte, or up to the line ends that git may have
// changed on the way in, or through a large-file pointer. The lock is held while the repository is asked.
func (g *Git) same(e *object.TreeEntry, full string, size int64, lock *sync.Mutex) (bool, error) {
	f, err := os.Open(full)
	if err != nil {
		return false, err
	}
	defer f.Close()
	hash := sha1.New() // a blob's name: gitformat-objects; the machine's own instructions do it
	fmt.Fprintf(hash, "blob %d\x00", size)
	if _, err := io.Copy(hash, f); err != nil {
		return false, err
	}
	if plumbing.Hash(hash.Sum(nil)) == e.Hash {
		return true, nil
	}
	lock.Lock()
	blob, err := g.repo.BlobObject(e.Hash)
	lock.Unlock()
	if err != nil {
		return false, err
	}
	const textLimit = 4 << 20 // texts larger than this are none that a person keeps
	if blob.Size > textLimit || size > 1<<32 {
		return false, nil
	}
	lock.Lock()
	kept, err := contentOf(blob)
	lock.Unlock()
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

func contentOf(blob *object.Blob) ([]byte, error) {
	r, err := blob.Reader()
	if err != nil {
		return nil, err
	}
	defer r.Close()
	return io.ReadAll(r)
}

// isText is git's own guess: no NUL in the first 8000 bytes (buffer_is_binary in its xdiff-interface.c,
// from memory).
func isText(data []byte) bool { return !bytes.Contains(data[:min(len(data), 8000)], []byte{0}) }

func unixLines(data []byte) []byte { return bytes.ReplaceAll(data, []byte("\r\n"), []byte("\n")) }
