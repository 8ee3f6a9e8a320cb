/* The generated constants at work: raw codes of a frame to processed values. Parts that the header
 * leaves out (see its comment, "Absent") stay 0. Included behind "trim.h". */
#ifndef BENCH_PROCESS_H
#define BENCH_PROCESS_H

#if TB_RAW_BITS != 10
#error "the converter of this chip has 10 bits; these constants are for another board"
#endif

#define PROCESS_BUTTON(n)                                                                          \
    if (tb_b##n(states + n, (uint8_t)((down >> n) & 1u), now_ms)) {                             \
        mask |= (uint16_t)(1u << n);                                                               \
    }

static void process_buttons(bench_frame *f)
{
    uint16_t mask = 0;
#if defined(TB_B0_LOCKOUT_MS) || defined(TB_B1_LOCKOUT_MS) || defined(TB_B2_LOCKOUT_MS)            \
    || defined(TB_B3_LOCKOUT_MS) || defined(TB_B4_LOCKOUT_MS) || defined(TB_B5_LOCKOUT_MS)
    static tb_button states[15];
    /* `f->buttons` says pressed as 1, so the polarity of the pins is settled here already. */
    uint16_t down = f->buttons;
    uint16_t now_ms = (uint16_t)(f->t_us / 1000u);
#endif
#if defined(TB_B0_LOCKOUT_MS)
    PROCESS_BUTTON(0)
#endif
#if defined(TB_B1_LOCKOUT_MS)
    PROCESS_BUTTON(1)
#endif
#if defined(TB_B2_LOCKOUT_MS)
    PROCESS_BUTTON(2)
#endif
#if defined(TB_B3_LOCKOUT_MS)
    PROCESS_BUTTON(3)
#endif
#if defined(TB_B4_LOCKOUT_MS)
    PROCESS_BUTTON(4)
#endif
#if defined(TB_B5_LOCKOUT_MS)
    PROCESS_BUTTON(5)
#endif
#if defined(TB_B6_LOCKOUT_MS)
    PROCESS_BUTTON(6)
#endif
#if defined(TB_B7_LOCKOUT_MS)
    PROCESS_BUTTON(7)
#endif
#if defined(TB_B8_LOCKOUT_MS)
    PROCESS_BUTTON(8)
#endif
#if defined(TB_B9_LOCKOUT_MS)
    PROCESS_BUTTON(9)
#endif
#if defined(TB_B10_LOCKOUT_MS)
    PROCESS_BUTTON(10)
#endif
#if defined(TB_B11_LOCKOUT_MS)
    PROCESS_BUTTON(11)
#endif
#if defined(TB_B12_LOCKOUT_MS)
    PROCESS_BUTTON(12)
#endif
#if defined(TB_B13_LOCKOUT_MS)
    PROCESS_BUTTON(13)
#endif
#if defined(TB_B14_LOCKOUT_MS)
    PROCESS_BUTTON(14)
#endif
    f->out_buttons = mask;
}

static void process(bench_frame *f)
{
#if defined(TB_LEFT_INNER)
    tb_left_stick(f->axes[0], f->axes[1], f->out_axes, f->out_axes + 1);
#endif
#if defined(TB_RIGHT_INNER)
    tb_right_stick(f->axes[2], f->axes[3], f->out_axes + 2, f->out_axes + 3);
#endif
#if defined(TB_LT_REST)
    f->out_axes[4] = tb_lt(f->axes[4]);
#endif
#if defined(TB_RT_REST)
    f->out_axes[5] = tb_rt(f->axes[5]);
#endif
    process_buttons(f);
}

#endif
