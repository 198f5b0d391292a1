//go:build !amd64

package row

const hasVector = false

func startsVector(*[nearRoom]byte, *byte, int, int) int { return 0 }
