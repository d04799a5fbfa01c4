package mesh

import (
	"os"
	"syscall"
)

// mapBytes maps the first size bytes of f. The pages are entered at once: a page fault for every few of
// them costs more.
func mapBytes(f *os.File, size int) ([]byte, bool) {
	b, err := syscall.Mmap(int(f.Fd()), 0, size, syscall.PROT_READ, syscall.MAP_SHARED|syscall.MAP_POPULATE)
	return b, err == nil
}

func unmapBytes(b []byte) error { return syscall.Munmap(b) }
