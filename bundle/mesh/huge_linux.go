package mesh

import (
	"syscall"
	"unsafe"
)

// hugePage is the size of a large page on the machines that matter here (x86-64, arm64 with 4 KiB
// base pages).
const hugePage = 2 << 20

// hugeFrom is the size from which memory lies on large pages: half of one costs less than the page
// faults that it saves.
const hugeFrom = hugePage / 2

// adviseHuge asks for large pages for b, whose start and end are multiples of hugePage. It is advice
// only: when the kernel refuses, the memory works all the same.
func adviseHuge(b []byte) { _ = syscall.Madvise(b, syscall.MADV_HUGEPAGE) }

// populateWrite is MADV_POPULATE_WRITE of Linux 5.14 (include/uapi/asm-generic/mman-common.h), which
// package syscall does not have.
const populateWrite = 23

// populate enters the pages of b, which begins on a page, without changing what is written there meanwhile.
// It reports false where the kernel cannot, or b is too small to be worth it.
func populate(b []byte) bool {
	return len(b) >= hugePage/2 && syscall.Madvise(b, populateWrite) == nil
}

// bytesOf is the memory of s, nil where it is not large: only that of large and newScratch begins on a page.
func bytesOf[T any](s []T) []byte {
	size := sizeOf[T](len(s))
	if size < hugeFrom {
		return nil
	}
	return unsafe.Slice((*byte)(unsafe.Pointer(&s[0])), size)
}

// large returns n zeroed values of T. Where n is big they lie on large pages: first touch of 4 KiB
// pages is the dearest part of a mesh check otherwise (measured: 182 against 107 ms for a million
// triangles). The memory is ordinary garbage-collected memory, so nothing need be freed by hand.
// T holds no pointers.
func large[T any](n int) []T {
	size := sizeOf[T](n)
	if size < hugeFrom {
		return make([]T, n)
	}
	// Fresh pages come zeroed from the kernel and untouched, so the slack at both ends costs
	// addresses only.
	return alignHuge[T](make([]byte, size+2*hugePage), n)
}

// scratch is memory for the time of one step. Where it is big it is no part of the heap: the collector
// would start for it, twice in a check that lasts 60 ms, and stop all goroutines each time.
type scratch[T any] struct {
	s   []T
	raw []byte // the mapping, or nil
}

// newScratch returns n zeroed values of T, which holds no pointers.
func newScratch[T any](n int) scratch[T] {
	size := sizeOf[T](n)
	if size < hugeFrom {
		return scratch[T]{s: make([]T, n)}
	}
	raw, err := syscall.Mmap(-1, 0, size+2*hugePage, syscall.PROT_READ|syscall.PROT_WRITE, syscall.MAP_PRIVATE|syscall.MAP_ANON)
	if err != nil {
		return scratch[T]{s: make([]T, n)}
	}
	return scratch[T]{alignHuge[T](raw, n), raw}
}

// free gives the memory back. It may be called twice.
func (m *scratch[T]) free() {
	if m.raw != nil {
		_ = syscall.Munmap(m.raw) // fails for no mapping of ours
	}
	*m = scratch[T]{}
}

func sizeOf[T any](n int) int { return n * int(unsafe.Sizeof(*new(T))) }

// alignHuge returns n values of T on large pages within raw, which is two pages longer than they need.
func alignHuge[T any](raw []byte, n int) []T {
	start := uintptr(unsafe.Pointer(&raw[0]))
	skip := int((hugePage - start%hugePage) % hugePage)
	b := raw[skip : skip+(sizeOf[T](n)+hugePage-1)/hugePage*hugePage]
	adviseHuge(b)
	return unsafe.Slice((*T)(unsafe.Pointer(&b[0])), n)
}
