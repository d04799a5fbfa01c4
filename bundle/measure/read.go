package measure

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"strings"

	"dropwright/bundle/facts"
)

// look finds out what stands at a path without following links. exact reports the spelling of the folder.
func look(fsys fs.FS, name string) (info fs.FileInfo, problem string) {
	if !fs.ValidPath(name) {
		return nil, "unreadable: not a path inside the folder"
	}
	at := "."
	for i, seg := range strings.Split(name, "/") {
		at = path.Join(at, seg)
		st, err := fs.Lstat(fsys, at)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			return nil, "missing"
		case err != nil:
			return nil, "unreadable: " + plain(err)
		case st.Mode()&fs.ModeSymlink != 0:
			return nil, "link: " + at
		case !st.IsDir() && i < strings.Count(name, "/"):
			return nil, "missing"
		}
		info = st
	}
	if info.IsDir() {
		return info, "folder"
	}
	if !info.Mode().IsRegular() {
		return info, "unreadable: not a plain file"
	}
	return info, ""
}

// plain drops the path that Go's errors carry: the finding names the file itself.
func plain(err error) string {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err.Error()
	}
	return err.Error()
}

// spelling returns how the folder spells a file's name, when a case-insensitive disk let another one pass.
func spelling(fsys fs.FS, name string, cache map[string][]fs.DirEntry) string {
	dir, base := path.Split(name)
	dir = path.Clean("./" + dir)
	entries, ok := cache[dir]
	if !ok {
		entries, _ = fs.ReadDir(fsys, dir)
		cache[dir] = entries
	}
	other := ""
	for _, e := range entries {
		if e.Name() == base {
			return ""
		}
		if strings.EqualFold(e.Name(), base) {
			other = e.Name()
		}
	}
	return other
}

// readAll reads a file up to limit bytes; one byte more is an error that names the limit.
func readAll(fsys fs.FS, name string, limit int64) ([]byte, error) {
	f, err := fsys.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		return nil, err
	}
	if st.Size() > limit {
		return nil, fmt.Errorf("it holds %d bytes, the limit is %d", st.Size(), limit)
	}
	buf := make([]byte, 0, st.Size()+1)
	for {
		n, err := f.Read(buf[len(buf):cap(buf)])
		buf = buf[:len(buf)+n]
		if int64(len(buf)) > limit {
			return nil, fmt.Errorf("it holds more than %d bytes, the limit", limit)
		}
		if err == io.EOF {
			return buf, nil
		}
		if err != nil {
			return nil, err
		}
		if len(buf) == cap(buf) {
			buf = append(buf, 0)[:len(buf)]
		}
	}
}

// digest hashes a file in a stream.
func digest(fsys fs.FS, name string) (string, int64, error) {
	f, err := fsys.Open(name)
	if err != nil {
		return "", 0, err
	}
	defer f.Close()
	h := sha256.New()
	n, err := io.Copy(h, f)
	if err != nil {
		return "", 0, err
	}
	return hex.EncodeToString(h.Sum(nil)), n, nil
}

// content is the digest of a design: the manifest's text and every file it names, by path and hash. A
// missing file counts as such, so that adding it changes the digest.
func content(manifest []byte, files []facts.File) string {
	h := sha256.New()
	sum := sha256.Sum256(manifest)
	fmt.Fprintf(h, "dropwright-design-1\n%x design.yaml\n", sum)
	for _, f := range files {
		if f.Named {
			fmt.Fprintf(h, "%s %s\n", f.SHA256, f.Path)
		}
	}
	return hex.EncodeToString(h.Sum(nil))
}
