/* The companion on the host: frames, edges, commands, records, for link.rs to read. */
#include "bench_link.h"
#include <stdio.h>
#include <stdlib.h>
static uint32_t draw = 12345;
static uint32_t next(void)
{
    draw ^= draw << 13; draw ^= draw >> 17; draw ^= draw << 5;
    /* Extremes come often. */
    return draw % 5 == 0 ? 0 : draw % 5 == 1 ? 0xFFFFFFFFu : draw;
}
static void put(uint8_t byte) { putchar(byte); }
static void frames(uint8_t options)
{
    int i, k;
    bench_say("# hello", options, put);
    for (i = 0; i < 400; ++i) {
        bench_frame f;
        f.seq = (uint16_t)i; f.t_us = 4000u * (uint32_t)i;
        for (k = 0; k < 6; ++k) f.axes[k] = (uint16_t)next();
        f.buttons = (uint16_t)next(); f.vcc_mv = (uint16_t)next(); f.reset_cause = (uint8_t)next();
        for (k = 0; k < 2; ++k) f.duty[k] = (uint8_t)next();
        f.light[0] = (uint8_t)next();
        f.remote_seq = (uint16_t)next(); f.remote_age = next();
        for (k = 0; k < 6; ++k) { f.out_axes[k] = (int16_t)(next() % 65535u - 32767u); }
        f.out_buttons = (uint16_t)next(); f.identity = (uint16_t)next();
        if (i % 128 == 0) bench_heading(options, put);
        bench_send(&f, options, put);
    }
}
static void edges(uint8_t options)
{
    static bench_edges e;
    int i;
    bench_edges_begin(&e, 0, 1000000000u);
    for (i = 1; i <= 40; ++i) bench_edge(&e, (uint16_t)i, 1000000000u + (uint32_t)i);
    bench_edge(&e, 40, 7);
    while (bench_say_edges(&e, 3, options, put)) { }
    bench_edge(&e, 0, 9);
    bench_say_edges(&e, 3, options, put);
}
static void commands(void)
{
    static bench_receiver r;
    int c;
    while ((c = getchar()) != EOF) {
        bench_command command = bench_take(&r, (uint8_t)c);
        if (command == BENCH_NOTHING) continue;
        bench_answer(&r, command, 0, put);
    }
}
static void record(void)
{
    bench_half a = {1234, 65535, {1, 1023, 512}, 0x8001}, b;
    uint8_t bytes[BENCH_RECORD];
    int k, passed = 0;
    bench_record(&a, bytes);
    if (!bench_read_record(bytes, &b) || b.seq != 1234 || b.age_us != 65535 || b.axes[1] != 1023
        || b.buttons != 0x8001) passed = -100;
    for (k = 0; k < (int)BENCH_RECORD * 8; ++k) {
        bytes[k / 8] ^= (uint8_t)(1u << k % 8);
        passed += bench_read_record(bytes, &b);
        bytes[k / 8] ^= (uint8_t)(1u << k % 8);
    }
    printf("%d\n", passed);
}
int main(int argc, char **argv)
{
    int what = argc > 1 ? atoi(argv[1]) : 0;
    if (what < 8) frames((uint8_t)what);
    else if (what < 10) edges((uint8_t)(what - 8));
    else if (what == 10) commands();
    else record();
    return 0;
}
