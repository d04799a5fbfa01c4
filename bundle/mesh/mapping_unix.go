//go:build unix && !linux && !solaris && !illumos && !aix

package mesh

import (
	"os"
	"syscall"
)

// mapBytes maps the first size bytes of f.
func mapBytes(f *os.File, size int) ([]byte, bool) {
	b, err := syscall.Mmap(int(f.Fd()), 0, size, syscall.PROT_READ, syscall.MAP_SHARED)
	return b, err == nil
}

func unmapBytes(b []byte) error { return syscall.Munmap(b) }
