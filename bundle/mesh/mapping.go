package mesh

import (
	"fmt"
	"io/fs"
	"os"
	"time"
)

// Mapping holds the bytes of a file without a copy of it where the system allows that: reading a big
// mesh into fresh memory takes longer than checking it. Work on mapped bytes goes through Guard (the
// readers of mesh/stl do that themselves), because a file cut short meanwhile makes them unreadable.
type Mapping struct {
	Bytes []byte // read only; not to be used after Close

	file    *os.File
	size    int64
	changed time.Time
	mapped  bool
}

// Map maps the regular file f, or reads it where mapping is not possible. f must stay open until
// Close, which does not close it. The caller judges the size of the file beforehand.
func Map(f *os.File) (*Mapping, error) {
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, &fs.PathError{Op: "map", Path: f.Name(), Err: fs.ErrInvalid}
	}
	m := &Mapping{file: f, size: info.Size(), changed: info.ModTime()}
	if m.size == 0 {
		return m, nil
	}
	if int64(int(m.size)) != m.size {
		return nil, fmt.Errorf("%q has %d bytes, more than this machine can address", f.Name(), m.size)
	}
	if m.Bytes, m.mapped = mapBytes(f, int(m.size)); m.mapped {
		return m, nil
	}
	m.Bytes = large[byte](int(m.size))
	if _, err := f.ReadAt(m.Bytes, 0); err != nil {
		return nil, err
	}
	return m, nil
}

// Unchanged returns an error if the file got another size or time since it was mapped: what was read
// may then be a mixture. Call it when the work is done, before the result is used.
func (m *Mapping) Unchanged() error {
	info, err := m.file.Stat()
	if err != nil {
		return err
	}
	if info.Size() != m.size || !info.ModTime().Equal(m.changed) {
		return fmt.Errorf("%q changed while it was read; measure it again", m.file.Name())
	}
	return nil
}

// Close gives the memory back. The mesh that was read from it does not need it.
func (m *Mapping) Close() error {
	b := m.Bytes
	m.Bytes = nil
	if m.mapped && b != nil {
		return unmapBytes(b)
	}
	return nil
}
