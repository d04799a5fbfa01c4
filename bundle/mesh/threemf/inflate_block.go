package threemf

// huffman unpacks symbols until the block ends or the output buffer is full. It works on copies of the
// fields that change with every symbol, which the compiler can keep in registers.
func (f *inflater) huffman() error {
	out := f.out
	write := f.write
	for {
		f.refill()
		if f.pad > 0 && f.overrun() {
			f.write = write
			return f.broken()
		}
		bits, nbits := f.bits, f.nbits
		e := f.litLen[bits&(1<<litBits-1)]
		if e&markSecond != 0 && e&isLiteral == 0 {
			bits >>= litBits
			nbits -= litBits
			e = f.litLen[e>>16+uint32(bits)&(1<<(e>>8&0x0f)-1)]
		}
		bits >>= e & 0xff
		nbits -= uint(e & 0xff)
		if e&isLiteral != 0 {
			// A code has at most 15 bits: two more literals fit into the 56 bits.
			out[write] = byte(e >> 16)
			write++
			for range 2 {
				e = f.litLen[bits&(1<<litBits-1)]
				if e&isLiteral == 0 {
					break
				}
				bits >>= e & 0xff
				nbits -= uint(e & 0xff)
				out[write] = byte(e >> 16)
				write++
			}
			f.bits, f.nbits = bits, nbits
			if write >= window+outBlock {
				f.write = write
				return nil
			}
			continue
		}
		if e&markEnd != 0 {
			f.bits, f.nbits, f.write = bits, nbits, write
			f.inBlock = false
			if f.overrun() {
				return f.broken()
			}
			return nil
		}
		if e == 0 {
			f.bits, f.nbits, f.write = bits, nbits, write
			return f.noCode()
		}
		extra := e >> 8 & 0xff
		length := int(e>>16&0x7fff) + int(bits&(1<<extra-1))
		bits >>= extra
		nbits -= uint(extra)
		f.bits, f.nbits = bits, nbits
		if nbits < 32 {
			f.refill()
			bits, nbits = f.bits, f.nbits
		}
		d := f.distance[bits&(1<<distBits-1)]
		if d&markSecond != 0 {
			bits >>= distBits
			nbits -= distBits
			d = f.distance[d>>16+uint32(bits)&(1<<(d>>8&0x0f)-1)]
		}
		if d == 0 {
			f.write = write
			return f.noCode()
		}
		bits >>= d & 0xff
		nbits -= uint(d & 0xff)
		extra = d >> 8 & 0xff
		distance := int(d>>16) + int(bits&(1<<extra-1))
		bits >>= extra
		nbits -= uint(extra)
		f.bits, f.nbits = bits, nbits
		if distance > write-f.oldest {
			f.write = write
			if f.overrun() {
				return f.broken()
			}
			return errCorrupt
		}
		if distance >= length {
			copy(out[write:write+length], out[write-distance:])
			write += length
		} else {
			// The match reaches into what it writes: it repeats.
			for end := write + length; write < end; {
				write += copy(out[write:end], out[write-distance:write])
			}
		}
		if write >= window+outBlock {
			f.write = write
			return nil
		}
	}
}

// noCode is the error for bits that are no code, which may be only the zeros behind the end.
func (f *inflater) noCode() error {
	if f.pad > 0 {
		return f.broken()
	}
	return errCorrupt
}
