/* For tests under Wine 8.0, which lacks bcryptprimitives.dll: the one function that Rust's library takes random bytes from, by an older
   one that Wine has. */
#include <windows.h>

BOOLEAN NTAPI SystemFunction036(PVOID, ULONG);

__declspec(dllexport) BOOL WINAPI ProcessPrng(PBYTE data, SIZE_T size) {
    return SystemFunction036(data, (ULONG)size);
}
