//! The database's tables. @generated from the migrations by tests/schema; do not edit.

diesel::table! {
    approvals (id) {
        id -> Uuid,
        series_id -> Uuid,
        episode_id -> Uuid,
        cut_id -> Uuid,
        specification_id -> Uuid,
        approved_by -> Nullable<Uuid>,
        approved_by_name -> Text,
        approved_at -> Timestamptz,
        self_approved -> Bool,
        note -> Text,
        covered -> Jsonb,
        withdrawn_at -> Nullable<Timestamptz>,
        withdrawn_by_name -> Text,
    }
}

diesel::table! {
    assets (id) {
        id -> Uuid,
        series_id -> Uuid,
        class -> Text,
        title -> Text,
        description -> Text,
        owner -> Text,
        source -> Text,
        basis -> Text,
        basis_note -> Text,
        basis_decided_by -> Text,
        basis_decided_on -> Nullable<Date>,
        credit_line -> Text,
        match_names -> Array<Text>,
        embedded -> Text,
        version -> Integer,
        created_at -> Timestamptz,
        updated_at -> Timestamptz,
        deleted_at -> Nullable<Timestamptz>,
        basis_territories -> Array<Text>,
        basis_details -> Jsonb,
        contents -> Jsonb,
    }
}

diesel::table! {
    audit (id) {
        id -> BigInt,
        at -> Timestamptz,
        organisation_id -> Uuid,
        series_id -> Nullable<Uuid>,
        actor_id -> Nullable<Uuid>,
        actor_name -> Text,
        action -> Text,
        subject_kind -> Text,
        subject_id -> Nullable<Uuid>,
        before -> Nullable<Jsonb>,
        after -> Nullable<Jsonb>,
        request_id -> Nullable<Uuid>,
    }
}

diesel::table! {
    budgets (id) {
        id -> Uuid,
        series_id -> Uuid,
        episode_id -> Nullable<Uuid>,
        title -> Text,
        currency -> Text,
        amount_minor -> BigInt,
        notes -> Text,
        version -> Integer,
        created_at -> Timestamptz,
        updated_at -> Timestamptz,
        deleted_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    card_rates (card_id, rate_num, rate_den) {
        card_id -> Uuid,
        rate_num -> Integer,
        rate_den -> Integer,
        files -> BigInt,
    }
}

diesel::table! {
    card_reports (id) {
        id -> Uuid,
        series_id -> Uuid,
        card_id -> Uuid,
        positive -> Bool,
        words -> Text,
        given_by -> Nullable<Uuid>,
        given_by_name -> Text,
        given_at -> Timestamptz,
    }
}

diesel::table! {
    cards (id) {
        id -> Uuid,
        series_id -> Uuid,
        shoot_day_id -> Nullable<Uuid>,
        name -> Text,
        camera -> Text,
        number -> Text,
        shot_on -> Nullable<Date>,
        state -> Text,
        wiped_by -> Text,
        wiped_on -> Nullable<Date>,
        notes -> Text,
        version -> Integer,
        created_at -> Timestamptz,
        updated_at -> Timestamptz,
        deleted_at -> Nullable<Timestamptz>,
        wiped_although -> Text,
        files -> Integer,
        bytes -> BigInt,
        least_copies -> Integer,
    }
}

diesel::table! {
    check_chunks (check_id, number) {
        check_id -> Uuid,
        number -> Integer,
        digest -> Text,
        lines -> Integer,
    }
}

diesel::table! {
    check_faults (check_id, path) {
        check_id -> Uuid,
        path -> Text,
        result -> Text,
        detail -> Text,
    }
}

diesel::table! {
    checklist_answers (episode_id, item) {
        episode_id -> Uuid,
        item -> Text,
        series_id -> Uuid,
        answer -> Text,
        note -> Text,
        answered_by -> Text,
        version -> Integer,
        updated_at -> Timestamptz,
    }
}

diesel::table! {
    copies (id) {
        id -> Uuid,
        series_id -> Uuid,
        file_id -> Uuid,
        drive_id -> Uuid,
        path -> Text,
        mtime -> Nullable<Timestamptz>,
        checked_at -> Timestamptz,
        state -> Text,
        check_id -> Nullable<Uuid>,
    }
}

diesel::table! {
    costs (id) {
        id -> Uuid,
        series_id -> Uuid,
        licence_id -> Uuid,
        episode_id -> Nullable<Uuid>,
        currency -> Text,
        quoted_minor -> Nullable<BigInt>,
        agreed_minor -> Nullable<BigInt>,
        paid_minor -> Nullable<BigInt>,
        paid_on -> Nullable<Date>,
        most_favoured -> Bool,
        step_ups -> Jsonb,
        notes -> Text,
        version -> Integer,
        created_at -> Timestamptz,
        updated_at -> Timestamptz,
        deleted_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    cue_details (cut_id, music_id, record_in, record_out) {
        cut_id -> Uuid,
        music_id -> Uuid,
        record_in -> BigInt,
        record_out -> BigInt,
        series_id -> Uuid,
        episode_id -> Uuid,
        usage -> Nullable<Text>,
        vocals -> Nullable<Text>,
        performer_visible -> Nullable<Bool>,
        note -> Text,
        version -> Integer,
        updated_at -> Timestamptz,
    }
}

diesel::table! {
    cue_sheets (episode_id) {
        episode_id -> Uuid,
        series_id -> Uuid,
        also_known_as -> Text,
        production_number -> Text,
        contact -> Text,
        country -> Text,
        year -> Text,
        director -> Text,
        gap_frames -> BigInt,
        rounding -> Text,
        overlaps -> Text,
        total -> Text,
        version -> Integer,
        updated_at -> Timestamptz,
    }
}

diesel::table! {
    custody_events (id) {
        id -> Uuid,
        series_id -> Uuid,
        drive_id -> Uuid,
        kind -> Text,
        at -> Timestamptz,
        from_name -> Text,
        to_name -> Text,
        to_place -> Text,
        condition -> Text,
        seal -> Text,
        signature -> Text,
        corrects -> Nullable<Uuid>,
        recorded_by -> Nullable<Uuid>,
        recorded_by_name -> Text,
        created_at -> Timestamptz,
    }
}

diesel::table! {
    cut_captions (cut_id) {
        cut_id -> Uuid,
        series_id -> Uuid,
        items -> Jsonb,
        version -> Integer,
        updated_by -> Text,
        updated_at -> Timestamptz,
    }
}

diesel::table! {
    cut_events (cut_id, position) {
        cut_id -> Uuid,
        series_id -> Uuid,
        position -> Integer,
        origin -> Text,
        event -> Text,
        track -> Text,
        picture -> Bool,
        kind -> Text,
        reel -> Text,
        clip -> Text,
        source_name -> Text,
        rate -> Text,
        record_in -> BigInt,
        record_out -> BigInt,
        source_in -> Nullable<BigInt>,
        source_out -> Nullable<BigInt>,
        speed -> Nullable<Text>,
        comments -> Jsonb,
        match_kind -> Text,
        match_how -> Text,
        file_id -> Nullable<Uuid>,
        asset_id -> Nullable<Uuid>,
        music_id -> Nullable<Uuid>,
        file_in -> Nullable<BigInt>,
        file_out -> Nullable<BigInt>,
        sound -> Bool,
        enabled -> Bool,
    }
}

diesel::table! {
    cuts (id) {
        id -> Uuid,
        series_id -> Uuid,
        episode_id -> Uuid,
        name -> Text,
        cut_date -> Nullable<Date>,
        cut_number -> Nullable<Integer>,
        format -> Text,
        title -> Text,
        rate -> Text,
        start_frame -> BigInt,
        duration_frames -> BigInt,
        locked -> Bool,
        source_sha256 -> Text,
        source -> Bytea,
        warnings -> Jsonb,
        imported_by -> Nullable<Uuid>,
        version -> Integer,
        created_at -> Timestamptz,
        updated_at -> Timestamptz,
        deleted_at -> Nullable<Timestamptz>,
        source_name -> Text,
    }
}

diesel::table! {
    deliverables (id) {
        id -> Uuid,
        series_id -> Uuid,
        episode_id -> Uuid,
        specification_id -> Nullable<Uuid>,
        item -> Text,
        due_on -> Nullable<Date>,
        owner_id -> Nullable<Uuid>,
        status -> Text,
        status_note -> Text,
        notes -> Text,
        version -> Integer,
        created_at -> Timestamptz,
        updated_at -> Timestamptz,
        deleted_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    device_tokens (id) {
        id -> Uuid,
        user_id -> Uuid,
        label -> Text,
        created_at -> Timestamptz,
        expires_at -> Timestamptz,
        last_used_at -> Nullable<Timestamptz>,
        ended_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    documents (series_id, id) {
        series_id -> Uuid,
        id -> Text,
        name -> Text,
        media_type -> Text,
        size -> BigInt,
        created_at -> Timestamptz,
    }
}

diesel::table! {
    drive_checks (id) {
        id -> Uuid,
        series_id -> Uuid,
        drive_id -> Uuid,
        how -> Text,
        root -> Text,
        tool -> Text,
        machine -> Text,
        checked_by -> Nullable<Uuid>,
        checked_by_name -> Text,
        state -> Text,
        next_chunk -> Integer,
        lines -> Integer,
        summary -> Nullable<Jsonb>,
        created_at -> Timestamptz,
        completed_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    drives (id) {
        id -> Uuid,
        series_id -> Uuid,
        label -> Text,
        serial -> Text,
        kind -> Text,
        capacity_bytes -> Nullable<BigInt>,
        free_bytes -> Nullable<BigInt>,
        bought_on -> Nullable<Date>,
        encrypted -> Bool,
        place -> Text,
        holder -> Text,
        status -> Text,
        next_check_on -> Nullable<Date>,
        notes -> Text,
        version -> Integer,
        created_at -> Timestamptz,
        updated_at -> Timestamptz,
        deleted_at -> Nullable<Timestamptz>,
        volume -> Text,
        twin_of -> Nullable<Uuid>,
        known_separate -> Bool,
        free_seen -> Nullable<BigInt>,
        free_seen_at -> Nullable<Timestamptz>,
        one_with -> Nullable<Uuid>,
    }
}

diesel::table! {
    episodes (id) {
        id -> Uuid,
        series_id -> Uuid,
        number -> Integer,
        title -> Text,
        status -> Text,
        slot_seconds -> Nullable<Integer>,
        first_transmission -> Nullable<Date>,
        first_transmission_planned -> Nullable<Date>,
        delivered -> Nullable<Date>,
        delivery_planned -> Nullable<Date>,
        first_use -> Nullable<Date>,
        notes -> Text,
        version -> Integer,
        created_at -> Timestamptz,
        updated_at -> Timestamptz,
        deleted_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    file_pictures (file_id, kind) {
        file_id -> Uuid,
        kind -> Text,
        series_id -> Uuid,
        sha256 -> Text,
        size -> Integer,
        created_at -> Timestamptz,
    }
}

diesel::table! {
    files (id) {
        id -> Uuid,
        series_id -> Uuid,
        card_id -> Nullable<Uuid>,
        name -> Text,
        stem -> Text,
        size -> BigInt,
        xxh128 -> Text,
        hashes -> Jsonb,
        kind -> Text,
        facts -> Nullable<Jsonb>,
        reel -> Text,
        rate_num -> Nullable<Integer>,
        rate_den -> Nullable<Integer>,
        drop_frame -> Nullable<Bool>,
        start_frame -> Nullable<BigInt>,
        frame_count -> Nullable<BigInt>,
        created_at -> Timestamptz,
        folder -> BigInt,
        name_id -> Integer,
    }
}

diesel::table! {
    folder_drives (folder, drive_id) {
        folder -> BigInt,
        drive_id -> Uuid,
    }
}

diesel::table! {
    folders (key) {
        key -> BigInt,
        series_id -> Uuid,
        words -> Text,
        card_id -> Nullable<Uuid>,
        modified_on -> Nullable<Date>,
    }
}

diesel::table! {
    holdings (id) {
        id -> BigInt,
        series_id -> Uuid,
        card_id -> Nullable<Uuid>,
        drives -> Array<Uuid>,
        files -> BigInt,
        bytes -> BigInt,
    }
}

diesel::table! {
    invitations (id) {
        id -> Uuid,
        organisation_id -> Uuid,
        series_id -> Nullable<Uuid>,
        email -> Text,
        roles -> Array<Text>,
        invited_by -> Nullable<Uuid>,
        created_at -> Timestamptz,
        expires_at -> Timestamptz,
        accepted_at -> Nullable<Timestamptz>,
        ended_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    issued_cue_sheets (id) {
        id -> Uuid,
        series_id -> Uuid,
        episode_id -> Uuid,
        number -> Integer,
        sheet -> Jsonb,
        pdf -> Bytea,
        xlsx -> Bytea,
        csv -> Bytea,
        pdf_sha256 -> Text,
        issued_by -> Nullable<Uuid>,
        issued_by_name -> Text,
        issued_at -> Timestamptz,
    }
}

diesel::table! {
    issued_papers (id) {
        id -> Uuid,
        series_id -> Uuid,
        episode_id -> Uuid,
        kind -> Text,
        form -> Text,
        cut_name -> Text,
        specification -> Text,
        file_name -> Text,
        note -> Text,
        bytes -> Bytea,
        sha256 -> Text,
        issued_by -> Nullable<Uuid>,
        issued_by_name -> Text,
        issued_at -> Timestamptz,
        taken_back_at -> Nullable<Timestamptz>,
        taken_back_by -> Text,
        broadcaster -> Text,
    }
}

diesel::table! {
    jobs (id) {
        id -> Uuid,
        kind -> Text,
        payload -> Jsonb,
        dedupe_key -> Nullable<Text>,
        run_at -> Timestamptz,
        attempts -> Integer,
        locked_until -> Nullable<Timestamptz>,
        claim -> Nullable<Uuid>,
        last_error -> Nullable<Text>,
        dead_at -> Nullable<Timestamptz>,
        created_at -> Timestamptz,
    }
}

diesel::table! {
    licences (id) {
        id -> Uuid,
        series_id -> Uuid,
        asset_id -> Nullable<Uuid>,
        music_id -> Nullable<Uuid>,
        side -> Text,
        licensor -> Text,
        reference -> Text,
        status -> Text,
        signed_on -> Nullable<Date>,
        grants -> Jsonb,
        fee_minor -> Nullable<BigInt>,
        currency -> Text,
        payment_due -> Nullable<Date>,
        credit_line -> Text,
        allows_promotion -> Bool,
        conditions -> Text,
        document_id -> Nullable<Text>,
        notes -> Text,
        version -> Integer,
        created_at -> Timestamptz,
        updated_at -> Timestamptz,
        deleted_at -> Nullable<Timestamptz>,
        terms -> Jsonb,
    }
}

diesel::table! {
    log_entries (id) {
        id -> Uuid,
        series_id -> Uuid,
        file_id -> Uuid,
        frame_in -> Nullable<BigInt>,
        frame_out -> Nullable<BigInt>,
        kind -> Text,
        person_id -> Nullable<Uuid>,
        place_id -> Nullable<Uuid>,
        asset_id -> Nullable<Uuid>,
        music_id -> Nullable<Uuid>,
        presence -> Text,
        face -> Text,
        named_on_screen -> Bool,
        note -> Text,
        version -> Integer,
        created_at -> Timestamptz,
        updated_at -> Timestamptz,
        deleted_at -> Nullable<Timestamptz>,
        voice_changed -> Bool,
        folder -> BigInt,
    }
}

diesel::table! {
    mails (id) {
        id -> Uuid,
        organisation_id -> Uuid,
        user_id -> Nullable<Uuid>,
        kind -> Text,
        recipient -> Text,
        subject -> Text,
        body_text -> Text,
        body_html -> Text,
        message_id -> Text,
        state -> Text,
        useless_after -> Nullable<Timestamptz>,
        last_answer -> Nullable<Text>,
        created_at -> Timestamptz,
        sent_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    memberships (series_id, user_id) {
        series_id -> Uuid,
        user_id -> Uuid,
        roles -> Array<Text>,
        created_at -> Timestamptz,
        broadcaster -> Nullable<Text>,
    }
}

diesel::table! {
    music (id) {
        id -> Uuid,
        series_id -> Uuid,
        title -> Text,
        origin -> Text,
        composers -> Text,
        publishers -> Text,
        performers -> Text,
        label -> Text,
        catalogue_number -> Text,
        iswc -> Text,
        isrc -> Text,
        composition_public_domain -> Bool,
        composition_note -> Text,
        match_names -> Array<Text>,
        notes -> Text,
        version -> Integer,
        created_at -> Timestamptz,
        updated_at -> Timestamptz,
        deleted_at -> Nullable<Timestamptz>,
        composition_territories -> Array<Text>,
        parties -> Jsonb,
        share_convention -> Text,
        publisher_note -> Text,
        same_work_id -> Nullable<Uuid>,
    }
}

diesel::table! {
    names (id) {
        id -> Integer,
        series_id -> Uuid,
        words -> Text,
        files -> BigInt,
    }
}

diesel::table! {
    organisations (id) {
        id -> Uuid,
        name -> Text,
        created_at -> Timestamptz,
    }
}

diesel::table! {
    other_places (file_id, place, name_id) {
        file_id -> Uuid,
        place -> BigInt,
        name_id -> Integer,
        series_id -> Uuid,
        folder -> BigInt,
    }
}

diesel::table! {
    password_resets (id) {
        id -> Uuid,
        user_id -> Uuid,
        token_hash -> Bytea,
        created_at -> Timestamptz,
        expires_at -> Timestamptz,
        used_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    people (id) {
        id -> Uuid,
        series_id -> Uuid,
        legal_name -> Text,
        credited_name -> Text,
        credited_name_confirmed_by -> Text,
        credited_name_confirmed_on -> Nullable<Date>,
        pronunciation -> Text,
        contact -> Text,
        born -> Nullable<Date>,
        age_band -> Nullable<Text>,
        guardian_name -> Text,
        guardian_relationship -> Text,
        guardian_contact -> Text,
        language -> Text,
        died -> Nullable<Date>,
        sensitive -> Bool,
        recognised_by -> Text,
        notes -> Text,
        version -> Integer,
        created_at -> Timestamptz,
        updated_at -> Timestamptz,
        deleted_at -> Nullable<Timestamptz>,
        also_needed -> Array<Text>,
    }
}

diesel::table! {
    places (id) {
        id -> Uuid,
        series_id -> Uuid,
        name -> Text,
        address -> Text,
        owner -> Text,
        signatory -> Text,
        notes -> Text,
        version -> Integer,
        created_at -> Timestamptz,
        updated_at -> Timestamptz,
        deleted_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    releases (id) {
        id -> Uuid,
        series_id -> Uuid,
        kind -> Text,
        person_id -> Nullable<Uuid>,
        place_id -> Nullable<Uuid>,
        asset_id -> Nullable<Uuid>,
        status -> Text,
        status_note -> Text,
        signed_by -> Nullable<Text>,
        signed_by_name -> Text,
        signed_on -> Nullable<Date>,
        filmed_from -> Nullable<Date>,
        filmed_to -> Nullable<Date>,
        entity -> Text,
        law -> Text,
        consideration -> Text,
        allows_editing -> Bool,
        allows_promotion -> Bool,
        form_version -> Text,
        grants -> Jsonb,
        restrictions -> Jsonb,
        withdrawal -> Nullable<Jsonb>,
        document_id -> Nullable<Text>,
        original_held -> Text,
        notes -> Text,
        version -> Integer,
        created_at -> Timestamptz,
        updated_at -> Timestamptz,
        deleted_at -> Nullable<Timestamptz>,
        details -> Jsonb,
    }
}

diesel::table! {
    remembered_matches (series_id, key) {
        series_id -> Uuid,
        key -> Text,
        file_id -> Nullable<Uuid>,
        asset_id -> Nullable<Uuid>,
        music_id -> Nullable<Uuid>,
        made_by -> Nullable<Uuid>,
        made_at -> Timestamptz,
    }
}

diesel::table! {
    reminder_notices (reminder_id, user_id) {
        reminder_id -> Uuid,
        user_id -> Uuid,
        mail_id -> Nullable<Uuid>,
        created_at -> Timestamptz,
    }
}

diesel::table! {
    reminders (id) {
        id -> Uuid,
        series_id -> Uuid,
        subject_kind -> Text,
        subject_id -> Uuid,
        aspect -> Text,
        due_on -> Date,
        days_before -> Integer,
        fire_at -> Timestamptz,
        dedupe_key -> Text,
        fired_at -> Nullable<Timestamptz>,
        resolved_at -> Nullable<Timestamptz>,
        acknowledged_by -> Nullable<Uuid>,
        acknowledged_at -> Nullable<Timestamptz>,
        created_at -> Timestamptz,
    }
}

diesel::table! {
    saved_searches (id) {
        id -> Uuid,
        series_id -> Uuid,
        owner_id -> Uuid,
        name -> Text,
        query -> Text,
        shared -> Bool,
        version -> Integer,
        created_at -> Timestamptz,
        updated_at -> Timestamptz,
        deleted_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    scan_chunks (scan_id, number) {
        scan_id -> Uuid,
        number -> Integer,
        digest -> Text,
        files -> Integer,
        copies -> Nullable<Array<Uuid>>,
    }
}

diesel::table! {
    scans (id) {
        id -> Uuid,
        series_id -> Uuid,
        drive_id -> Uuid,
        started_by -> Nullable<Uuid>,
        root -> Text,
        tool -> Text,
        state -> Text,
        next_chunk -> Integer,
        files -> Integer,
        bytes -> BigInt,
        new_files -> Integer,
        new_copies -> Integer,
        warnings -> Jsonb,
        created_at -> Timestamptz,
        completed_at -> Nullable<Timestamptz>,
        skipped -> Jsonb,
        summary -> Nullable<Jsonb>,
        extended -> Integer,
        devices -> Array<Text>,
    }
}

diesel::table! {
    scenes (id) {
        id -> Uuid,
        series_id -> Uuid,
        episode_id -> Uuid,
        position -> Integer,
        kind -> Text,
        title -> Text,
        starts_at -> Nullable<Text>,
        ends_at -> Nullable<Text>,
        notes -> Text,
        version -> Integer,
        created_at -> Timestamptz,
        updated_at -> Timestamptz,
        deleted_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    sealed_notes (id) {
        id -> Uuid,
        series_id -> Uuid,
        subject_kind -> Text,
        subject_id -> Uuid,
        title -> Text,
        body -> Text,
        readers -> Array<Uuid>,
        written_by -> Nullable<Uuid>,
        written_by_name -> Text,
        created_at -> Timestamptz,
        deleted_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    search_words (series_id, digits, word) {
        series_id -> Uuid,
        digits -> Text,
        word -> Text,
    }
}

diesel::table! {
    series (id) {
        id -> Uuid,
        organisation_id -> Uuid,
        title -> Text,
        producer_entity -> Text,
        zone -> Text,
        roll_pattern -> Text,
        frame_rate -> Text,
        adult_at -> Integer,
        consideration_required -> Bool,
        holidays -> Array<Date>,
        shoot_from -> Nullable<Date>,
        shoot_to -> Nullable<Date>,
        version -> Integer,
        created_at -> Timestamptz,
        updated_at -> Timestamptz,
        deleted_at -> Nullable<Timestamptz>,
        check_months -> Integer,
        copies_apart -> Bool,
        main_place -> Text,
        roll_restart -> Text,
    }
}

diesel::table! {
    server_facts (name) {
        name -> Text,
        value -> Bytea,
        created_at -> Timestamptz,
    }
}

diesel::table! {
    sessions (id) {
        id -> Uuid,
        user_id -> Uuid,
        token_hash -> Bytea,
        created_at -> Timestamptz,
        last_seen_at -> Timestamptz,
        expires_at -> Timestamptz,
        ended_at -> Nullable<Timestamptz>,
        agent -> Text,
        address -> Text,
    }
}

diesel::table! {
    sheet_import_rows (import_id, record_id) {
        import_id -> Uuid,
        record_id -> Uuid,
        number -> Integer,
        version -> Integer,
        before -> Nullable<Jsonb>,
    }
}

diesel::table! {
    sheet_imports (id) {
        id -> Uuid,
        series_id -> Uuid,
        kind -> Text,
        file_name -> Text,
        user_id -> Nullable<Uuid>,
        user_name -> Text,
        at -> Timestamptz,
        made -> Integer,
        changed -> Integer,
        left_out -> Integer,
        faulty -> Integer,
        request_id -> Nullable<Uuid>,
        undone_at -> Nullable<Timestamptz>,
        undone_by -> Nullable<Text>,
        kept -> Nullable<Jsonb>,
    }
}

diesel::table! {
    sheet_mappings (id) {
        id -> Uuid,
        series_id -> Uuid,
        kind -> Text,
        name -> Text,
        mapping -> Jsonb,
        made_by -> Text,
        updated_at -> Timestamptz,
    }
}

diesel::table! {
    sheet_uploads (id) {
        id -> Uuid,
        series_id -> Uuid,
        user_id -> Uuid,
        kind -> Text,
        name -> Text,
        content -> Bytea,
        created_at -> Timestamptz,
    }
}

diesel::table! {
    shoot_days (id) {
        id -> Uuid,
        series_id -> Uuid,
        day -> Date,
        title -> Text,
        place_ids -> Array<Uuid>,
        cards_expected -> Integer,
        crew -> Text,
        cast_expected -> Text,
        notices_posted -> Text,
        risk_note -> Text,
        version -> Integer,
        created_at -> Timestamptz,
        updated_at -> Timestamptz,
        deleted_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    shots (id) {
        id -> Uuid,
        series_id -> Uuid,
        file_id -> Uuid,
        folder -> BigInt,
        frame_in -> Nullable<BigInt>,
        frame_out -> Nullable<BigInt>,
        kind -> Nullable<Text>,
        rank -> Nullable<SmallInt>,
        words -> Text,
        version -> Integer,
        created_at -> Timestamptz,
        updated_at -> Timestamptz,
        deleted_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    showings (id) {
        id -> Uuid,
        series_id -> Uuid,
        episode_id -> Uuid,
        day -> Date,
        at_time -> Text,
        territories -> Array<Text>,
        media -> Array<Text>,
        repeat -> Bool,
        repeat_check -> Jsonb,
        notes -> Text,
        version -> Integer,
        created_at -> Timestamptz,
        updated_at -> Timestamptz,
        deleted_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    sign_in_failures (subject) {
        subject -> Text,
        failures -> Integer,
        next_try_at -> Timestamptz,
    }
}

diesel::table! {
    specifications (id) {
        id -> Uuid,
        series_id -> Uuid,
        name -> Text,
        broadcaster -> Text,
        edition -> Text,
        territories -> Array<Text>,
        territories_except -> Array<Text>,
        media -> Array<Text>,
        media_except -> Array<Text>,
        needed_from -> Date,
        needed_to -> Date,
        overhang_months -> Integer,
        notes -> Text,
        version -> Integer,
        created_at -> Timestamptz,
        updated_at -> Timestamptz,
        deleted_at -> Nullable<Timestamptz>,
        runs_needed -> Nullable<Integer>,
        for_promotion -> Bool,
        version_name -> Text,
    }
}

diesel::table! {
    territory_groups (id) {
        id -> Uuid,
        series_id -> Uuid,
        name -> Text,
        territories -> Array<Text>,
        notes -> Text,
        version -> Integer,
        created_at -> Timestamptz,
        updated_at -> Timestamptz,
        deleted_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    transcript_lines (transcript_id, position) {
        transcript_id -> Uuid,
        position -> Integer,
        series_id -> Uuid,
        file_id -> Uuid,
        start_ms -> BigInt,
        end_ms -> BigInt,
        speaker -> Text,
        text -> Text,
        words -> Text,
    }
}

diesel::table! {
    transcripts (id) {
        id -> Uuid,
        series_id -> Uuid,
        file_id -> Uuid,
        name -> Text,
        language -> Text,
        lines -> Integer,
        brought_by -> Nullable<Uuid>,
        brought_by_name -> Text,
        created_at -> Timestamptz,
        version -> Integer,
        updated_at -> Timestamptz,
        deleted_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    users (id) {
        id -> Uuid,
        organisation_id -> Uuid,
        email -> Text,
        name -> Text,
        password_hash -> Text,
        is_admin -> Bool,
        disabled_at -> Nullable<Timestamptz>,
        mail_choice -> Text,
        version -> Integer,
        created_at -> Timestamptz,
        updated_at -> Timestamptz,
    }
}

diesel::allow_tables_to_appear_in_same_query!(
    approvals,
    assets,
    audit,
    budgets,
    card_rates,
    card_reports,
    cards,
    check_chunks,
    check_faults,
    checklist_answers,
    copies,
    costs,
    cue_details,
    cue_sheets,
    custody_events,
    cut_captions,
    cut_events,
    cuts,
    deliverables,
    device_tokens,
    documents,
    drive_checks,
    drives,
    episodes,
    file_pictures,
    files,
    folder_drives,
    folders,
    holdings,
    invitations,
    issued_cue_sheets,
    issued_papers,
    jobs,
    licences,
    log_entries,
    mails,
    memberships,
    music,
    names,
    organisations,
    other_places,
    password_resets,
    people,
    places,
    releases,
    remembered_matches,
    reminder_notices,
    reminders,
    saved_searches,
    scan_chunks,
    scans,
    scenes,
    sealed_notes,
    search_words,
    series,
    server_facts,
    sessions,
    sheet_import_rows,
    sheet_imports,
    sheet_mappings,
    sheet_uploads,
    shoot_days,
    shots,
    showings,
    sign_in_failures,
    specifications,
    territory_groups,
    transcript_lines,
    transcripts,
    users,
);
