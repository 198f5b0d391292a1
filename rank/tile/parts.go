package tile

import (
	"fmt"
	"os"
	"sync"
)

// parts is the scratch file of the layers of tiles. A tile is its layers one
// after the other.
type parts struct {
	file   *os.File
	mu     sync.Mutex
	size   int64
	places [][]piece // by layer and tile
}

// A piece of the file; empty where a tile has nothing of a layer.
type piece struct {
	at   int64
	size int32
}

func newParts(dir string, layers, tiles int) (*parts, error) {
	f, err := os.CreateTemp(dir, ".layers.*.part")
	if err != nil {
		return nil, fmt.Errorf("scratch file: %w", err)
	}
	p := &parts{file: f, places: make([][]piece, layers)}
	for l := range p.places {
		p.places[l] = make([]piece, tiles)
	}
	return p, nil
}

// put takes one layer of one tile. Several may come at the same time.
func (p *parts) put(layer, tile int, b []byte) error {
	p.mu.Lock()
	at := p.size
	p.size += int64(len(b))
	p.mu.Unlock()
	p.places[layer][tile] = piece{at, int32(len(b))}
	_, err := p.file.WriteAt(b, at) // an error names the file
	return err
}

// appendTile appends all layers of a tile.
func (p *parts) appendTile(b []byte, tile int) ([]byte, error) {
	for l := range p.places {
		from, piece := len(b), p.places[l][tile]
		b = append(b, make([]byte, piece.size)...)
		if _, err := p.file.ReadAt(b[from:], piece.at); err != nil {
			return nil, fmt.Errorf("%s: %w", p.file.Name(), err)
		}
	}
	return b, nil
}

func (p *parts) close() {
	p.file.Close() // an error changes nothing: the file is thrown away
	os.Remove(p.file.Name())
}
