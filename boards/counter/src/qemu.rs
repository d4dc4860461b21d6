//! The part of QEMU's plugin interface that is used here.

use std::ffi::{c_int, c_uint, c_void};

/// Which version of the interface to ask for: 1 for QEMU 7.2 and 8; newer ones want a newer one,
/// which `boards/measure` finds out and sets. The functions below are the same in all of them.
pub(crate) const VERSION: c_int = match option_env!("QEMU_PLUGIN_VERSION") {
    Some(version) => version.as_bytes()[0] as c_int - b'0' as c_int,
    None => 1,
};

/// A plugin, as QEMU numbers it.
pub(crate) type Id = u64;
/// What QEMU says about the machine; not looked at.
#[derive(Debug)]
#[repr(C)]
pub(crate) struct Info {
    _private: [u8; 0],
}
/// A block of translated code.
#[repr(C)]
pub(crate) struct Tb {
    _private: [u8; 0],
}
/// An instruction in it.
#[repr(C)]
pub(crate) struct Insn {
    _private: [u8; 0],
}

/// Only stores are told.
pub(crate) const WRITES: c_int = 2;

unsafe extern "C" {
    pub(crate) fn qemu_plugin_register_vcpu_tb_trans_cb(id: Id, told: extern "C" fn(Id, *mut Tb));
    pub(crate) fn qemu_plugin_tb_n_insns(block: *const Tb) -> usize;
    pub(crate) fn qemu_plugin_tb_get_insn(block: *const Tb, index: usize) -> *mut Insn;
    pub(crate) fn qemu_plugin_insn_vaddr(insn: *const Insn) -> u64;
    pub(crate) fn qemu_plugin_insn_size(insn: *const Insn) -> usize;
    pub(crate) fn qemu_plugin_register_vcpu_insn_exec_cb(
        insn: *mut Insn,
        told: extern "C" fn(c_uint, *mut c_void),
        flags: c_int,
        data: *mut c_void,
    );
    pub(crate) fn qemu_plugin_register_vcpu_mem_cb(
        insn: *mut Insn,
        told: extern "C" fn(c_uint, u32, u64, *mut c_void),
        flags: c_int,
        kind: c_int,
        data: *mut c_void,
    );
    pub(crate) fn qemu_plugin_register_atexit_cb(
        id: Id,
        told: extern "C" fn(Id, *mut c_void),
        data: *mut c_void,
    );
}
