//go:build !linux

package mesh

// large returns n zeroed values of T; see huge_linux.go for why it is not plain make everywhere.
func large[T any](n int) []T { return make([]T, n) }
