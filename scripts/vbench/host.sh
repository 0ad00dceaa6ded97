# Sourced by scripts/virtual-bench: what this machine must have.

# static_busybox prints the path of a statically linked busybox.
static_busybox() {
	local path
	path=$(command -v busybox) || return 1
	# A dynamic one names its loader, which the machine inside lacks.
	! grep -aq -e /ld-linux -e /ld-musl "$path" || return 1
	printf '%s\n' "$path"
}

need_packages() {
	local packages=()
	for tool in apt-get apt-cache dpkg-deb; do
		command -v "$tool" >/dev/null ||
			cannot "$tool is not here: the virtual bench takes its kernel from Debian's packages and needs a Debian machine"
	done
	command -v go >/dev/null || cannot "go is not here: install Go 1.26 or newer and put it on PATH"
	command -v qemu-system-x86_64 >/dev/null || packages+=(qemu-system-x86 seabios)
	static_busybox >/dev/null || packages+=(busybox-static)
	command -v modprobe >/dev/null && command -v depmod >/dev/null || packages+=(kmod)
	command -v cpio >/dev/null || packages+=(cpio)
	((${#packages[@]})) || return 0

	local line="apt-get install --no-install-recommends -y ${packages[*]}"
	((EUID == 0)) || cannot "missing here: ${packages[*]}. Install with: sudo $line"
	say "missing here: ${packages[*]}. Installing: $line"
	DEBIAN_FRONTEND=noninteractive $line >&2 ||
		{ apt-get update >&2 && DEBIAN_FRONTEND=noninteractive $line >&2; } ||
		cannot "apt-get could not install ${packages[*]}"
	hash -r
}
