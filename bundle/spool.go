package bundle

import (
	"bytes"
	"errors"
	"io"
	"os"
)

// spoolMemory is how many bytes of a finished bundle are held in memory; larger ones go to a temporary file.
// The demo's bundles have one to three million; 64 million keep the whole run far below 200 MB.
const spoolMemory = 64 << 20

// spool keeps a finished bundle while it is looked over, before anybody is given it.
type spool struct {
	mem  bytes.Buffer
	file *os.File
}

// Write is io.Writer's.
func (s *spool) Write(p []byte) (int, error) {
	if s.file == nil && s.mem.Len()+len(p) <= spoolMemory {
		return s.mem.Write(p)
	}
	if s.file == nil {
		f, err := os.CreateTemp("", "dropwright-")
		if err != nil {
			return 0, err
		}
		s.file = f
		if _, err := s.mem.WriteTo(f); err != nil {
			return 0, err
		}
		s.mem = bytes.Buffer{}
	}
	return s.file.Write(p)
}

// ReadAt is io.ReaderAt's.
func (s *spool) ReadAt(p []byte, off int64) (int, error) {
	if s.file != nil {
		return s.file.ReadAt(p, off)
	}
	return bytes.NewReader(s.mem.Bytes()).ReadAt(p, off)
}

func (s *spool) copyTo(w io.Writer) error {
	if s.file == nil {
		_, err := w.Write(s.mem.Bytes())
		return err
	}
	if _, err := s.file.Seek(0, io.SeekStart); err != nil {
		return err
	}
	_, err := io.Copy(w, s.file)
	return err
}

func (s *spool) close() error {
	if s.file == nil {
		return nil
	}
	return errors.Join(s.file.Close(), os.Remove(s.file.Name()))
}
