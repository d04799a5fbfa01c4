package threemf

import (
	"encoding/binary"
	"errors"
	"hash/crc32"
	"io"
	"math/bits"
)

// inflater unpacks a raw deflate stream (RFC 1951). Unpacking is what reading a 3MF file waits for; this
// takes two thirds of the time of compress/flate (a million triangles: 80 to 90 ms instead of 125 to 140),
// because it takes 8 bytes of input at once and looks up most symbols in one step. It accepts and
// refuses the same streams (FuzzInflate holds it to that).
type inflater struct {
	src    io.Reader
	in     []byte // unread input is in[pos:end]
	pos    int
	end    int
	srcErr error // io.EOF or worse, once src has given it

	bits  uint64 // the next nbits bits of input, lowest first; what is above them is not valid
	nbits uint
	pad   uint // bytes in bits that lie behind the end of the input

	out      []byte // the last 32 KiB of output, then what is new; unread output is out[read:write]
	oldest   int    // where output begins in out: no distance may reach further back
	read     int
	write    int
	err      error // once the stream has ended or failed
	final    bool  // the present block is the last
	inBlock  bool
	stored   int // bytes left of a stored block
	isStored bool

	litLen   [litTableSize]uint32
	distance [distTableSize]uint32
}

const (
	window   = 32 << 10
	outBlock = 128 << 10
	outSlack = 512 // more than the longest match and the literals of one turn

	litBits   = 11
	distBits  = 8
	maxBits   = 15
	maxLitLen = 286 // symbols a dynamic block may define (3.2.5)
	maxDist   = 30

	// Table sizes hold the first level and, for complete codes of 288 and 32 symbols up to 15 bits, all
	// that can be needed for the second (2342 and 402, by the count that zlib's "enough" makes).
	litTableSize  = 2560
	distTableSize = 512
)

// A table entry, from the low end: 8 bits how many bits of input the symbol takes, 8 bits how many extra
// bits follow or one of the marks below, 15 bits the value, 1 bit set for a literal. 0 is no code.
const (
	markSecond = 0x80 << 8 // value is the start of a second table, the low bits of the mark its width
	markEnd    = 0x40 << 8 // end of block
	isLiteral  = 1 << 31
)

var errCorrupt = errors.New("the compressed data is corrupt")

// Base and extra bits of lengths and distances (RFC 1951, 3.2.5).
var (
	lengthBase  = [29]uint16{3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 15, 17, 19, 23, 27, 31, 35, 43, 51, 59, 67, 83, 99, 115, 131, 163, 195, 227, 258}
	lengthExtra = [29]uint8{0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3, 4, 4, 4, 4, 5, 5, 5, 5, 0}
	distBase    = [30]uint16{1, 2, 3, 4, 5, 7, 9, 13, 17, 25, 33, 49, 65, 97, 129, 193, 257, 385, 513, 769, 1025, 1537, 2049, 3073, 4097, 6145, 8193, 12289, 16385, 24577}
	distExtra   = [30]uint8{0, 0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6, 7, 7, 8, 8, 9, 9, 10, 10, 11, 11, 12, 12, 13, 13}
	// The order in which the lengths of the code length code stand (3.2.7).
	codeOrder = [19]int{16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15}
)

func newInflater(src io.Reader) *inflater {
	return &inflater{src: src, in: make([]byte, 64<<10), out: make([]byte, window+outBlock+outSlack), oldest: window, read: window, write: window}
}

// Read unpacks up to len(p) bytes.
func (f *inflater) Read(p []byte) (int, error) {
	for f.read == f.write {
		if f.err != nil {
			return 0, f.err
		}
		if f.write >= window+outBlock {
			copy(f.out, f.out[f.write-window:f.write])
			f.oldest, f.read, f.write = 0, window, window
		}
		f.err = f.step()
	}
	n := copy(p, f.out[f.read:f.write])
	f.read += n
	return n, nil
}

// step unpacks something, up to a full buffer; io.EOF behind the last block.
func (f *inflater) step() error {
	if !f.inBlock {
		if f.final {
			return io.EOF
		}
		if err := f.header(); err != nil {
			return err
		}
	}
	if f.isStored {
		return f.copyStored()
	}
	return f.huffman()
}

// refill gets at least 56 bits, with zeros behind the end of the input.
func (f *inflater) refill() {
	if f.pos+8 <= f.end {
		f.bits |= binary.LittleEndian.Uint64(f.in[f.pos:]) << f.nbits
		f.pos += int((63 - f.nbits) >> 3)
		f.nbits |= 56
		return
	}
	f.more()
	if f.pos+8 <= f.end {
		f.refill()
		return
	}
	for f.nbits < 56 {
		if f.pos < f.end {
			f.bits |= uint64(f.in[f.pos]) << f.nbits
			f.pos++
		} else {
			f.pad++
		}
		f.nbits += 8
	}
}

// more reads input behind what is unread. The eight bytes before it stay, for unread to step back to.
func (f *inflater) more() {
	if f.srcErr != nil {
		return
	}
	keep := max(0, f.pos-8)
	copy(f.in, f.in[keep:f.end])
	f.pos -= keep
	f.end -= keep
	for f.srcErr == nil && f.end < f.pos+8 {
		var n int
		n, f.srcErr = f.src.Read(f.in[f.end:])
		f.end += n
	}
}

// overrun reports whether bits were taken that lie behind the end of the input.
func (f *inflater) overrun() bool { return f.pad > f.nbits/8 }

// broken is the error for input that ended too soon.
func (f *inflater) broken() error {
	if f.srcErr != nil && f.srcErr != io.EOF {
		return f.srcErr
	}
	return io.ErrUnexpectedEOF
}

// take returns the next n bits, at most 16, after a refill that left so many.
func (f *inflater) take(n uint) uint32 {
	v := uint32(f.bits) & (1<<n - 1)
	f.bits >>= n
	f.nbits -= n
	return v
}

func (f *inflater) header() error {
	f.refill()
	f.final = f.take(1) == 1
	kind := f.take(2)
	if f.overrun() {
		return f.broken()
	}
	f.inBlock, f.isStored = true, false
	switch kind {
	case 0:
		return f.storedHeader()
	case 1:
		return f.fixed()
	case 2:
		return f.dynamic()
	}
	return errCorrupt
}

// storedHeader steps back to the byte after the header and reads the length.
func (f *inflater) storedHeader() error {
	whole := f.nbits / 8
	if f.pad > 0 {
		whole -= min(whole, f.pad)
	}
	f.pos -= int(whole)
	f.bits, f.nbits, f.pad = 0, 0, 0
	if f.end-f.pos < 4 {
		f.more()
	}
	if f.end-f.pos < 4 {
		return f.broken()
	}
	n := binary.LittleEndian.Uint16(f.in[f.pos:])
	if binary.LittleEndian.Uint16(f.in[f.pos+2:]) != ^n {
		return errCorrupt
	}
	f.pos += 4
	f.stored, f.isStored = int(n), true
	return nil
}

func (f *inflater) copyStored() error {
	for f.stored > 0 && f.write < window+outBlock {
		if f.pos == f.end {
			if f.more(); f.pos == f.end {
				return f.broken()
			}
		}
		n := copy(f.out[f.write:window+outBlock], f.in[f.pos:min(f.end, f.pos+f.stored)])
		f.pos += n
		f.write += n
		f.stored -= n
	}
	f.inBlock = f.stored > 0
	return nil
}

func (f *inflater) fixed() error {
	var lengths [288]uint8
	for i := range lengths {
		switch {
		case i < 144:
			lengths[i] = 8
		case i < 256:
			lengths[i] = 9
		case i < 280:
			lengths[i] = 7
		default:
			lengths[i] = 8
		}
	}
	var distances [32]uint8
	for i := range distances {
		distances[i] = 5
	}
	return f.tables(lengths[:], distances[:])
}

func (f *inflater) dynamic() error {
	f.refill()
	lit, dist, codes := int(f.take(5))+257, int(f.take(5))+1, int(f.take(4))+4
	if lit > maxLitLen || dist > maxDist {
		return errCorrupt
	}
	var codeLengths [19]uint8
	for i := range codes {
		if f.nbits < 3 {
			f.refill()
		}
		codeLengths[codeOrder[i]] = uint8(f.take(3))
	}
	if f.overrun() {
		return f.broken()
	}
	// The code length code has at most 7 bits: the table for distances has room for it.
	symbols := [19]uint32{}
	for i := range symbols {
		symbols[i] = uint32(i) << 16
	}
	if !buildTable(f.distance[:], distBits, codeLengths[:], symbols[:]) {
		return errCorrupt
	}
	var lengths [maxLitLen + maxDist]uint8
	for i := 0; i < lit+dist; {
		f.refill()
		e := f.distance[f.bits&(1<<distBits-1)]
		if e == 0 {
			if f.pad > 0 {
				return f.broken()
			}
			return errCorrupt
		}
		f.take(uint(e & 0xff))
		value := uint8(e >> 16)
		repeat := 1
		switch symbol := value; symbol {
		case 16:
			if i == 0 {
				return errCorrupt
			}
			value = lengths[i-1]
			repeat = 3 + int(f.take(2))
		case 17:
			value = 0
			repeat = 3 + int(f.take(3))
		case 18:
			value = 0
			repeat = 11 + int(f.take(7))
		}
		if f.overrun() {
			return f.broken()
		}
		if i+repeat > lit+dist {
			return errCorrupt
		}
		for range repeat {
			lengths[i] = value
			i++
		}
	}
	return f.tables(lengths[:lit], lengths[lit:lit+dist])
}

// tables sets up the two tables of a block.
func (f *inflater) tables(lengths, distances []uint8) error {
	var lit [288]uint32
	for i := range lit {
		switch {
		case i < 256:
			lit[i] = isLiteral | uint32(i)<<16
		case i == 256:
			lit[i] = markEnd
		case i < 257+len(lengthBase):
			lit[i] = uint32(lengthBase[i-257])<<16 | uint32(lengthExtra[i-257])<<8
		}
	}
	var dist [32]uint32
	for i := range distBase {
		dist[i] = uint32(distBase[i])<<16 | uint32(distExtra[i])<<8
	}
	if !buildTable(f.litLen[:], litBits, lengths, lit[:]) || !buildTable(f.distance[:], distBits, distances, dist[:]) {
		return errCorrupt
	}
	return nil
}

// buildTable fills a table from code lengths. A symbol whose entry is 0 has a code but no meaning. It
// returns false for lengths that are no complete code; a single code of one bit and no code at all
// pass, as encoders make them for blocks with one distance or none.
func buildTable(table []uint32, first uint, lengths []uint8, symbols []uint32) bool {
	var count [maxBits + 1]int
	longest := uint(0)
	for _, n := range lengths {
		if n > 0 {
			count[n]++
			longest = max(longest, uint(n))
		}
	}
	clear(table)
	if longest == 0 {
		return true
	}
	var next [maxBits + 2]uint32
	code := uint32(0)
	for n := uint(1); n <= longest; n++ {
		next[n] = code
		code = (code + uint32(count[n])) << 1
	}
	code >>= 1
	if code != 1<<longest && !(code == 1 && longest == 1) {
		return false
	}
	// How wide the second table behind each start must be.
	var wide [1 << litBits]uint8
	if longest > first {
		probe := next
		for _, n := range lengths {
			if n := uint(n); n > 0 {
				reversed := bits.Reverse32(probe[n]) >> (32 - n)
				probe[n]++
				if n > first {
					start := reversed & (1<<first - 1)
					wide[start] = max(wide[start], uint8(n-first))
				}
			}
		}
	}
	free := 1 << first
	for symbol, n := range lengths {
		n := uint(n)
		if n == 0 {
			continue
		}
		reversed := bits.Reverse32(next[n]) >> (32 - n)
		next[n]++
		if n <= first {
			if e := symbols[symbol]; e != 0 || symbol == 0 {
				for i := reversed; i < 1<<first; i += 1 << n {
					table[i] = e | uint32(n)
				}
			}
			continue
		}
		start := reversed & (1<<first - 1)
		if table[start] == 0 {
			if free+1<<wide[start] > len(table) {
				return false
			}
			table[start] = uint32(free)<<16 | markSecond | uint32(wide[start])<<8 | uint32(first)
			free += 1 << wide[start]
		}
		if e := symbols[symbol]; e != 0 {
			second := table[start] >> 16
			for i := reversed >> first; i < 1<<wide[start]; i += 1 << (n - first) {
				table[second+i] = e | uint32(n-first)
			}
		}
	}
	return true
}

// checked ends with an error unless what passed through has the size and the CRC that the zip
// announced, and never lets more pass.
type checked struct {
	r    io.Reader
	left int64
	crc  uint32
	want uint32
}

func (c *checked) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	c.crc = crc32.Update(c.crc, crc32.IEEETable, p[:n])
	if c.left -= int64(n); c.left < 0 {
		return 0, errors.New("the part is longer than the zip archive says")
	}
	if err == io.EOF && c.left > 0 {
		return n, io.ErrUnexpectedEOF
	}
	if err == io.EOF && c.crc != c.want {
		return n, errors.New("the part does not match its checksum: the file is damaged, export or download it again")
	}
	return n, err
}

// Close does nothing: there is nothing to give back.
func (c *checked) Close() error { return nil }
