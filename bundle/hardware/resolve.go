package hardware

import (
	"fmt"
	"strings"
)

// ParseDrive reads a drive as a manifest names it: "hex socket", "cross", "hexalobular", "slot",
// "hex". ok is false for an unknown word.
func ParseDrive(text string) (d Drive, ok bool) {
	switch strings.ToLower(strings.TrimSpace(text)) {
	case "hex socket", "hexagon socket", "socket":
		return DriveHexSocket, true
	case "cross", "cross recess", "cross-head":
		return DriveCross, true
	case "hexalobular", "hexalobular socket":
		return DriveHexalobular, true
	case "slot", "slotted":
		return DriveSlot, true
	case "hex", "hexagon":
		return DriveHex, true
	}
	return "", false
}

// headWithDrive is the head whose standard has another drive than the plain word's.
var headWithDrive = map[Head]map[Drive]Head{
	HeadSocket:      {DriveHexalobular: HeadSocketHexalobular},
	HeadCountersunk: {DriveCross: HeadCountersunkCross},
	HeadPan:         {DriveHexalobular: HeadPanHexalobular, DriveSlot: HeadPanSlotted},
}

// ScrewDesignation makes the designation of a joint's screw from the words of a manifest: the
// screw ("M3x16", or a full designation), the head and the drive, both "" where not written.
// A full designation says head and drive itself; the error says when the words contradict it.
func ScrewDesignation(screw, head, drive string) (Designation, error) {
	d := Designation{Kind: KindScrew}
	var std Standard
	full := strings.ToUpper(plainText(screw))
	isFull := !strings.HasPrefix(full, "M")
	var err error
	if isFull {
		if d, err = ParseDesignation(screw); err != nil {
			return Designation{}, err
		}
		if d.Kind != KindScrew {
			return Designation{}, fmt.Errorf("%q is a %s, not a screw", screw, d.Kind)
		}
		std, _ = StandardOf(d.Standard)
	} else if d.Size, d.Length, err = ParseScrew(screw); err != nil {
		return Designation{}, err
	}
	h, ok := ParseHead(head)
	if !ok {
		return Designation{}, fmt.Errorf("head %q is not known", head)
	}
	turn, ok := ParseDrive(drive)
	if drive != "" && !ok {
		return Designation{}, fmt.Errorf("drive %q is not known; known are hex socket, cross, hexalobular, slot, hex", drive)
	}
	if other, ok := headWithDrive[h][turn]; ok {
		h = other
	}
	wanted, _ := StandardFor(h)
	if isFull {
		if head != "" && std.Head != wanted.Head && !(drive == "" && sameShape(std.Head, wanted.Head)) {
			return Designation{}, fmt.Errorf("%s has a %s head, but the head written is %q", std.Number, std.Head, head)
		}
		wanted = std
	}
	if drive != "" && wanted.Drive != turn {
		return Designation{}, fmt.Errorf("a %s screw of %s is turned by a %s, not by a %s", wanted.Head, wanted.Number, wanted.Drive, turn)
	}
	d.Standard = wanted.Number
	return d, nil
}

// sameShape tells whether two heads differ in the drive only, so that the plain word fits both.
func sameShape(a, b Head) bool {
	for plain, others := range headWithDrive {
		family := []Head{plain}
		for _, h := range others {
			family = append(family, h)
		}
		inA, inB := false, false
		for _, h := range family {
			inA, inB = inA || h == a, inB || h == b
		}
		if inA && inB {
			return true
		}
	}
	return false
}

// NutDesignation makes the designation of a nut from a manifest's word: "ISO 4032", "DIN 985",
// or "nut" for the default one; the size comes from the screw.
func NutDesignation(text string, size Size) (Designation, error) {
	number := text
	if t := strings.ToLower(strings.TrimSpace(text)); t == "" || t == "nut" {
		number = DefaultNut
	}
	if std, ok := StandardOf(number); ok {
		if std.Kind != KindNut {
			return Designation{}, fmt.Errorf("%s is a %s, not a nut", std.Number, std.Kind)
		}
		return Designation{Kind: KindNut, Standard: std.Number, Size: size}, nil
	}
	d, err := ParseDesignation(text)
	switch {
	case err != nil:
		return Designation{}, fmt.Errorf("nut %q is not known; write for example ISO 4032, ISO 7040 or DIN 562", text)
	case d.Kind != KindNut:
		return Designation{}, fmt.Errorf("%s is a %s, not a nut", d, d.Kind)
	case d.Size != size:
		return Designation{}, fmt.Errorf("nut %s does not go on an %s screw", d, size)
	}
	return d, nil
}

// WasherDesignation is the plain washer of a size that the word "washer" stands for.
func WasherDesignation(size Size) Designation {
	return Designation{Kind: KindWasher, Standard: DefaultWasher, Size: size}
}
