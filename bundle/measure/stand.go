package measure

import "dropwright/bundle/design"

// standingSize turns a size so that the named face lies on the bed: [x, y, z] as it stands.
func standingSize(size [3]float64, face design.Face) [3]float64 {
	switch face {
	case "+x", "-x":
		return [3]float64{size[1], size[2], size[0]}
	case "+y", "-y":
		return [3]float64{size[0], size[2], size[1]}
	}
	return size
}
