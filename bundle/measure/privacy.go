package measure

import (
	"bytes"
	"io"
	"strings"

	"dropwright/bundle/facts"
	"dropwright/bundle/privacy"
)

// grave are the kinds of leaks that name a person or a place. Others (a time, a program, a thumbnail) are
// cleaned from what goes out and are no matter for the maker.
var grave = map[privacy.Kind]bool{privacy.Position: true, privacy.Name: true, privacy.Serial: true, privacy.Path: true, privacy.Email: true, privacy.Address: true}

// largestPointer is the most bytes of the file that large-file storage in git leaves in place of a large one
// (its specification, docs/spec.md, "The Pointer": less than 1024).
const largestPointer = 1024

// isPointer knows such a file by its three keys (the same text).
func isPointer(s string) bool {
	return strings.HasPrefix(s, "version ") && strings.Contains(s, "\noid sha256:") && strings.Contains(s, "\nsize ")
}

// file looks for what one file of the design gives away, and whether it is there at all or only points to
// where large-file storage keeps it.
func (s *scanner) file(f facts.File) {
	r, size, done := s.random(f)
	if r == nil {
		return // a file that cannot be read is said elsewhere
	}
	defer done()
	if size < largestPointer {
		head := make([]byte, size)
		if n, _ := r.ReadAt(head, 0); isPointer(string(head[:n])) {
			s.lock.Lock()
			s.out.Pointers = append(s.out.Pointers, f.Path)
			s.lock.Unlock()
			return
		}
	}
	leaks, err := privacy.ScanReader(f.Path, r, size)
	if err != nil {
		return
	}
	s.lock.Lock()
	defer s.lock.Unlock()
	for _, l := range leaks {
		if grave[l.Kind] {
			s.out.Leaks = append(s.out.Leaks, facts.Leak{File: f.Path, Kind: string(l.Kind), What: l.What, Text: l.Text})
		}
	}
}

// random opens a file for reading anywhere in it; nil when it cannot be.
func (s *scanner) random(f facts.File) (io.ReaderAt, int64, func()) {
	file, err := s.fsys.Open(f.Path)
	if err != nil {
		return nil, 0, nil
	}
	st, err := file.Stat()
	if err != nil {
		file.Close()
		return nil, 0, nil
	}
	if r, ok := file.(io.ReaderAt); ok {
		return r, st.Size(), func() { file.Close() }
	}
	file.Close()
	data, err := readAll(s.fsys, f.Path, MaxMesh)
	if err != nil {
		return nil, 0, nil
	}
	return bytes.NewReader(data), int64(len(data)), func() {}
}
