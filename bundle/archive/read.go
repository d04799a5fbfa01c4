package archive

import (
	"archive/zip"
	"bufio"
	"bytes"
	"compress/flate"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"sort"
	"strings"

	"golang.org/x/text/unicode/norm"
)

// Kinds of problems that a zip can have.
const (
	NotZip      = "zip-unreadable" // no zip, or cut short
	HiddenData  = "zip-hidden"     // bytes that no file accounts for: comment, gap, before or after
	Disagrees   = "zip-disagrees"  // the two headers of one file say different things
	BadMethod   = "zip-method"     // neither stored nor deflated, or encrypted
	NotPlain    = "zip-not-plain"  // symbolic link, folder entry, device
	NotOurs     = "zip-foreign"    // legal, but packing never writes it: extra fields, Zip64, other folder
	TooMany     = "zip-too-many"   // past MaxEntries, or none
	TooLarge    = "zip-too-large"  // past MaxBytes
	TooDense    = "zip-bomb"       // past MaxRatio
	BadContent  = "zip-damaged"    // CRC, length or deflate stream wrong
	BadSums     = "sums-unreadable"
	NoSums      = "sums-missing"
	FileMissing = "file-missing" // listed in SHA256SUMS, not there
	FileExtra   = "file-extra"   // there, not listed
	FileChanged = "file-changed" // other bytes than listed
)

// Archive is a zip whose structure has been checked: every byte of it belongs to a file or a header
// that Read understood. The contents have not been read yet.
type Archive struct {
	Top   string // name of the top folder
	files []member
	r     io.ReaderAt
}

// member is one file as its headers describe it.
type member struct {
	path   string // below the top folder
	method uint16
	crc    uint32
	packed int64
	size   int64
	at     int64  // offset of the local header as the list says, then of the packed bytes
	both   []byte // the fields that both headers hold: needed version to uncompressed size
}

// Sizes and signatures of APPNOTE.TXT 4.3.7, 4.3.12 and 4.3.16.
const (
	localLen, localSig = 30, 0x04034b50
	dirLen, dirSig     = 46, 0x02014b50
	endLen, endSig     = 22, 0x06054b50
	nameMax            = 4 * 2 * MaxPath // longest name read, in bytes; a longer one is refused unread
)

// Read checks the structure of a zip of size bytes and refuses, with *Problems, whatever Write
// would not have written: entries outside the one top folder, symbolic links, twins, bombs, bytes
// outside of the files, headers that contradict each other. An error of r itself comes back as it
// is. Memory is bounded by MaxEntries, whatever the zip claims. r must stay readable while the
// Archive is used.
func Read(r io.ReaderAt, size int64) (*Archive, error) {
	z := &reader{r: r, size: size}
	a, err := z.read()
	if err != nil {
		return nil, err
	}
	if len(z.list) > 0 {
		return nil, &Problems{"read", z.list}
	}
	return a, nil
}

type reader struct {
	r    io.ReaderAt
	size int64
	list []Problem
}

func (z *reader) bad(kind, path, format string, args ...any) {
	// A hostile zip must not make us say ten thousand things.
	if len(z.list) < 100 {
		z.list = append(z.list, Problem{kind, path, fmt.Sprintf(format, args...)})
	}
}

// at reads n bytes at off, which the caller has checked to lie inside.
func (z *reader) at(off int64, n int) ([]byte, error) {
	b := make([]byte, n)
	if k, err := z.r.ReadAt(b, off); k < n {
		if err == nil || errors.Is(err, io.EOF) {
			err = io.ErrUnexpectedEOF
		}
		return nil, fmt.Errorf("read zip: %w", err)
	}
	return b, nil
}

var le = binary.LittleEndian

func (z *reader) read() (*Archive, error) {
	if z.size < endLen {
		z.bad(NotZip, "", "%d bytes are too few for a zip", z.size)
		return nil, nil
	}
	end, err := z.at(z.size-endLen, endLen)
	if err != nil {
		return nil, err
	}
	if le.Uint32(end) != endSig {
		return nil, z.noEnd()
	}
	if le.Uint16(end[20:]) != 0 {
		z.bad(HiddenData, "", "the zip says that a comment follows, but ends")
	}
	count := int64(le.Uint16(end[10:]))
	dirSize, dirAt := int64(le.Uint32(end[12:])), int64(le.Uint32(end[16:]))
	switch {
	case le.Uint16(end[4:]) != 0 || le.Uint16(end[6:]) != 0 || int64(le.Uint16(end[8:])) != count:
		z.bad(NotZip, "", "a zip in several volumes is not read")
	case count == 0xffff || dirSize == 0xffffffff || dirAt == 0xffffffff:
		z.bad(NotOurs, "", "Zip64 is not read; no bundle is that large")
	case count == 0:
		z.bad(TooMany, "", "the zip is empty")
	case count > MaxEntries:
		z.bad(TooMany, "", "%d files; a bundle holds at most %d", count, MaxEntries)
	case dirAt+dirSize != z.size-endLen:
		z.bad(HiddenData, "", "the list of files does not end where the zip ends: something was put before, between or after")
	case dirSize > count*(dirLen+nameMax):
		z.bad(NotOurs, "", "the list of files is %d bytes long for %d files", dirSize, count)
	}
	if len(z.list) > 0 {
		return nil, nil
	}
	dir, err := z.at(dirAt, int(dirSize))
	if err != nil {
		return nil, err
	}
	a := &Archive{r: z.r}
	offset := int64(0) // where the next local header must begin
	var total int64
	for range count {
		f, name, length, ok := z.entry(dir)
		if !ok {
			return nil, nil
		}
		dir = dir[length:]
		n, err := z.local(f, name, offset, dirAt)
		if err != nil {
			return nil, err
		}
		if n == 0 {
			return nil, nil
		}
		f.at = offset + n
		offset = f.at + f.packed
		top, path, found := strings.Cut(name, "/")
		if !found {
			z.bad(NotOurs, name, "lies outside of the top folder")
		} else if a.Top == "" {
			a.Top = top
		} else if a.Top != top {
			z.bad(NotOurs, name, "lies in another top folder than %q", a.Top)
		}
		f.path = path
		if total += f.size; total > MaxBytes {
			z.bad(TooLarge, "", "its files claim more than %d bytes together", int64(MaxBytes))
			return nil, nil
		}
		a.files = append(a.files, f)
	}
	if len(dir) != 0 {
		z.bad(HiddenData, "", "%d bytes follow the last entry of the list of files", len(dir))
	}
	if offset != dirAt {
		z.bad(HiddenData, "", "%d bytes lie between the files and the list of files", dirAt-offset)
	}
	z.names(a)
	return a, nil
}

// noEnd says why a zip does not end with its end record, looking for one further up.
func (z *reader) noEnd() error {
	n := min(z.size, endLen+0xffff)
	tail, err := z.at(z.size-n, int(n))
	if err != nil {
		return err
	}
	for i := len(tail) - endLen; i >= 0; i-- {
		if le.Uint32(tail[i:]) == endSig {
			after := len(tail) - i - endLen
			if int(le.Uint16(tail[i+20:])) == after {
				z.bad(HiddenData, "", "the zip carries a comment of %d bytes; bundles have none", after)
			} else {
				z.bad(HiddenData, "", "%d bytes follow the end of the zip", after)
			}
			return nil
		}
	}
	z.bad(NotZip, "", "this is no zip, or it was cut short: download it again")
	return nil
}

// entry reads one record of the central directory from the head of dir; length is what it takes.
func (z *reader) entry(dir []byte) (f member, name string, length int, ok bool) {
	if len(dir) < dirLen || le.Uint32(dir) != dirSig {
		z.bad(NotZip, "", "the list of files is damaged")
		return f, "", 0, false
	}
	nameLen, extraLen, commentLen := int(le.Uint16(dir[28:])), int(le.Uint16(dir[30:])), int(le.Uint16(dir[32:]))
	length = dirLen + nameLen + extraLen + commentLen
	if length > len(dir) || nameLen > nameMax {
		z.bad(NotZip, "", "the list of files is damaged: a name of %d bytes", nameLen)
		return f, "", 0, false
	}
	name = string(dir[dirLen : dirLen+nameLen])
	f = member{
		method: le.Uint16(dir[10:]),
		crc:    le.Uint32(dir[16:]),
		packed: int64(le.Uint32(dir[20:])),
		size:   int64(le.Uint32(dir[24:])),
		at:     int64(le.Uint32(dir[42:])),
		both:   dir[6:28],
	}
	mode := le.Uint32(dir[38:]) >> 16
	switch {
	case strings.HasSuffix(name, "/"):
		z.bad(NotPlain, name, "is an entry for a folder; bundles have none")
	case dir[5] == 3 && mode&0o170000 == 0o120000:
		z.bad(NotPlain, name, "is a symbolic link")
	case dir[5] == 3 && mode&0o170000 != 0o100000:
		z.bad(NotPlain, name, "is not a plain file (mode %o)", mode)
	case dir[5] != 3:
		z.bad(NotOurs, name, "was packed by another program: made on system %d", dir[5])
	}
	flags := le.Uint16(dir[8:])
	switch {
	case flags&1 != 0:
		z.bad(BadMethod, name, "is encrypted")
	case flags&^uint16(0x800) != 0 || (flags != 0) == isASCII(name):
		z.bad(NotOurs, name, "was packed by another program: flags %#x", flags)
	case dir[4] != 20 || le.Uint16(dir[6:]) != 20 || le.Uint16(dir[36:]) != 0 || le.Uint32(dir[38:]) != 0o100644<<16:
		z.bad(NotOurs, name, "was packed by another program: version %d, mode %o", dir[4], mode)
	}
	if f.method != zip.Store && f.method != zip.Deflate {
		z.bad(BadMethod, name, "is packed by method %d; only stored and deflated are read", f.method)
	}
	if extraLen > 0 || commentLen > 0 || le.Uint16(dir[34:]) != 0 {
		z.bad(NotOurs, name, "carries %d bytes of extra fields and %d of comment; bundles have none", extraLen, commentLen)
	}
	if f.packed == 0xffffffff || f.size == 0xffffffff || le.Uint32(dir[42:]) == 0xffffffff {
		z.bad(NotOurs, name, "needs Zip64, which is not read")
	}
	switch {
	case f.method == zip.Store && f.packed != f.size:
		z.bad(Disagrees, name, "is stored but has two sizes, %d and %d", f.packed, f.size)
	case tooDense(f.size, f.packed):
		z.bad(TooDense, name, "claims to unpack from %d to %d bytes: a bomb", f.packed, f.size)
	}
	return f, name, length, true
}

// local checks the local header, which must stand at offset, where the file before ends, against
// what the list of files said, and returns its length, 0 when reading cannot go on.
func (z *reader) local(f member, name string, offset, dirAt int64) (int64, error) {
	n := int64(localLen + len(name))
	if offset+n+f.packed > dirAt {
		z.bad(Disagrees, name, "overlaps what comes after it, or is cut short")
		return 0, nil
	}
	h, err := z.at(offset, int(n))
	if err != nil {
		return 0, err
	}
	if f.at != offset || le.Uint32(h) != localSig || int(le.Uint16(h[26:])) != len(name) {
		z.bad(HiddenData, name, "does not begin where the file before it ends")
		return 0, nil
	}
	switch {
	case string(h[localLen:]) != name:
		z.bad(Disagrees, name, "is called %q in its other header", h[localLen:])
	case le.Uint16(h[28:]) != 0:
		z.bad(NotOurs, name, "carries %d bytes of extra fields; bundles have none", le.Uint16(h[28:]))
		return 0, nil
	case !bytes.Equal(h[4:26], f.both):
		z.bad(Disagrees, name, "has two headers that contradict each other")
	}
	return n, nil
}

// names judges all names together, as CheckNames does, and their order and form.
func (z *reader) names(a *Archive) {
	twins := newTwins()
	last := ""
	for i, f := range a.files {
		for _, p := range append(checkPath(a.Top, f.path), twins.add(f.path)...) {
			z.bad(p.Kind, p.Path, "%s", p.Text)
		}
		if !norm.NFC.IsNormalString(f.path) {
			z.bad(NameForm, f.path, "is not written in Unicode form NFC")
		}
		if i > 0 && f.path < last {
			z.bad(NotOurs, f.path, "is out of order")
		}
		last = f.path
	}
	for _, p := range checkSegment(a.Top, a.Top) {
		z.bad(p.Kind, p.Path, "%s", p.Text)
	}
}

// Paths lists the files, sorted, below the top folder.
func (a *Archive) Paths() []string {
	out := make([]string, len(a.files))
	for i, f := range a.files {
		out[i] = f.path
	}
	return out
}

// Size is the length of a file in bytes as its header claims it, -1 when there is no such file.
func (a *Archive) Size(path string) int64 {
	if f, ok := a.find(path); ok {
		return f.size
	}
	return -1
}

// Open reads a file. The last Read gives *Problems instead of io.EOF when the content is not what
// the headers promised; never are more bytes given out than the header claims.
func (a *Archive) Open(path string) (io.Reader, error) {
	if f, ok := a.find(path); ok {
		return a.open(f), nil
	}
	return nil, fmt.Errorf("the zip holds no file %q", path)
}

func (a *Archive) find(path string) (member, bool) {
	// Read has refused a zip whose files are not sorted.
	i := sort.Search(len(a.files), func(i int) bool { return a.files[i].path >= path })
	if i == len(a.files) || a.files[i].path != path {
		return member{}, false
	}
	return a.files[i], true
}

// ReadFile is the whole of a file of at most limit bytes.
func (a *Archive) ReadFile(path string, limit int64) ([]byte, error) {
	if n := a.Size(path); n > limit {
		return nil, fmt.Errorf("%q has %d bytes; at most %d are read", path, n, limit)
	}
	r, err := a.Open(path)
	if err != nil {
		return nil, err
	}
	return io.ReadAll(r)
}

func (a *Archive) open(f member) io.Reader {
	raw := bufio.NewReaderSize(io.NewSectionReader(a.r, f.at, f.packed), 64<<10)
	c := &content{f: f, raw: raw, r: raw}
	if f.method == zip.Deflate {
		// flate reads byte by byte from what can do so, and hence not past the end of its stream.
		c.r = flate.NewReader(raw)
	}
	return c
}

// content reads one file and holds it to its headers.
type content struct {
	f   member
	raw *bufio.Reader
	r   io.Reader
	n   int64
	crc uint32
}

func (c *content) Read(p []byte) (int, error) {
	n, err := c.r.Read(p[:min(int64(len(p)), c.f.size-c.n+1)])
	if c.n+int64(n) > c.f.size {
		return 0, c.bad("unpacks to more than the %d bytes it claims", c.f.size)
	}
	c.n += int64(n)
	c.crc = crc32.Update(c.crc, crc32.IEEETable, p[:n])
	var corrupt flate.CorruptInputError
	switch {
	case err == nil:
		return n, nil
	case err == io.ErrUnexpectedEOF || errors.As(err, &corrupt):
		return n, c.bad("is damaged: its packed bytes make no sense")
	case err != io.EOF:
		return n, err
	case c.n != c.f.size:
		return n, c.bad("unpacks to %d bytes instead of %d", c.n, c.f.size)
	case c.crc != c.f.crc:
		return n, c.bad("is damaged: its check value (CRC-32) is wrong")
	}
	if _, err := c.raw.Peek(1); err != io.EOF {
		return n, c.bad("has bytes hidden behind its packed content")
	}
	return n, io.EOF
}

func (c *content) bad(format string, args ...any) error {
	return &Problems{"read", []Problem{{BadContent, c.f.path, fmt.Sprintf(format, args...)}}}
}

// hash reads a file to its end.
func (a *Archive) hash(f member) (File, error) {
	h := sha256.New()
	n, err := io.CopyBuffer(h, a.open(f), make([]byte, 64<<10))
	return File{f.path, n, Hash(h.Sum(nil))}, err
}
