//go:build !linux

package mesh

// large returns n zeroed values of T; see huge_linux.go for why it is not plain make everywhere.
func large[T any](n int) []T { return make([]T, n) }

// scratch is memory for the time of one step; see huge_linux.go.
type scratch[T any] struct{ s []T }

func newScratch[T any](n int) scratch[T] { return scratch[T]{make([]T, n)} }

// free gives the memory back. It may be called twice.
func (m *scratch[T]) free() { *m = scratch[T]{} }

const hugePage = 2 << 20

// populate leaves the pages to be entered when they are written.
func populate([]byte) bool { return false }

func bytesOf[T any]([]T) []byte { return nil }
